//! What a record says, read back as the page reads it, is what the core says.

use super::*;
use crate::Session;
use keyon_solve::Never;

const TEXT: &str = "circuit yard \"Yard <b>light</b>\"
supply b 12.6 V inner 15 mohm
ground G1 \"post\"
fuse F1 b -> key.1 5 A
switch key \"Key\"
switch dim \"Dimmer\"
wire 10 key.2 -> S1
wire 11 S1 -> L.1 0.75 mm2 OG 2.4 m
wire 12 S1 -> dim.1 0.75 mm2 OG 2 m
wire 13 dim.2 -> M.1 0.75 mm2 OG 2 m
splice S1
lamp L \"Lamp\" 10 W 12 V
lamp M \"Mirror\" 5 W 12 V
wire 14 L.2 -> G1 0.75 mm2 BK 1 m
wire 15 M.2 -> G1 0.75 mm2 BK 1 m
scenario lit \"Lit\" { key on }
scenario broken { key on; unplug L }
";

fn ask(session: &mut Session, request: &Value) -> Value {
    serde_json::from_str(&session.answer(&request.to_string())).unwrap()
}

/// A reader of records, as `recorded.js` is one.
struct Reader<'a> {
    record: &'a Value,
    parents: Vec<usize>,
    patterns: Vec<Vec<usize>>,
    columns: Vec<Vec<usize>>,
}

impl<'a> Reader<'a> {
    fn new(record: &'a Value) -> Self {
        let lists = |name: &str, head: usize| {
            let numbers = columns::read(record[name].as_str().unwrap());
            let mut at = numbers.as_slice();
            let mut out = Vec::new();
            while let [count, ..] = at {
                let (list, rest) = at.split_at(count + 1 + head);
                out.push(list[1..].to_vec());
                at = rest;
            }
            out
        };
        let parents = columns::read(record["parents"].as_str().unwrap());
        Self { record, parents, patterns: lists("patterns", 0), columns: lists("columns", 1) }
    }

    fn text(&self, name: &str, state: usize) -> String {
        let used = columns::read(self.record["texts"][name].as_str().unwrap_or_else(|| panic!("no {name}")));
        let value = |&column: &usize| {
            let [pattern, strings @ ..] = self.columns[column].as_slice() else { unreachable!() };
            let ordinal = self.ordinal(&self.patterns[*pattern], state);
            self.record["strings"][strings[ordinal]].as_str().unwrap()
        };
        used.iter().map(value).collect()
    }

    fn ordinal(&self, pattern: &[usize], state: usize) -> usize {
        let mut at = 0;
        for pair in pattern.chunks(2) {
            at += pair[0];
            if at == state {
                return pair[1];
            }
            at += 1;
        }
        if state == 0 { 0 } else { self.ordinal(pattern, self.parents[state]) }
    }

    fn json(&self, name: &str, state: usize) -> Value {
        serde_json::from_str(&self.text(name, state)).unwrap()
    }
}

/// Compares every recorded state that is a base, or a base with one control turned or one set-up made, with the core.
fn compare(load: &Value, most: usize) -> usize {
    let record = record(load, most, &Never).unwrap();
    assert_eq!(record, super::record(load, most, &Never).unwrap(), "the same each time");
    let reader = Reader::new(&record);
    let mut session = Session::default();
    let loaded = ask(&mut session, load);
    let mut seen = BTreeMap::new();
    for base in record["bases"].as_array().unwrap() {
        let mut at: Vec<usize> =
            base["at"].as_array().unwrap().iter().map(|n| n.as_u64().unwrap() as usize).collect();
        let name = &base["name"];
        let mut check = |at: &[usize], set: Value, setups: Value| {
            let codes: Vec<String> = at.iter().map(ToString::to_string).collect();
            let said = setups[0].as_str().unwrap_or_default();
            let key = format!("{}|{}|{said}", base["world"], codes.join("."));
            let Some(index) = record["states"][&key].as_u64() else { return false };
            seen.entry(index).or_insert(());
            let request = json!({ "in": name, "set": set, "setups": setups });
            same(&reader, &mut session, &loaded, request, index as usize, base["line"].as_str());
            true
        };
        assert!(check(&at, json!([]), json!([])), "{name} is always there");
        for (c, control) in loaded["controls"].as_array().unwrap().iter().enumerate() {
            let before = at[c];
            for (p, position) in control["positions"].as_array().unwrap().iter().enumerate() {
                at[c] = p;
                let set =
                    format!("{}={}", control["qualified"].as_str().unwrap(), position.as_str().unwrap());
                check(&at, json!([set]), json!([]));
            }
            at[c] = before;
        }
        for fuse in loaded["fuses"].as_array().unwrap() {
            check(&at, json!([]), json!([format!("pull {}", fuse.as_str().unwrap())]));
        }
        for device in loaded["devices"].as_array().unwrap() {
            check(&at, json!([]), json!([format!("unplug {}", device["name"].as_str().unwrap())]));
        }
        for connector in loaded["connectors"].as_array().unwrap() {
            check(&at, json!([]), json!([format!("unplug {}", connector.as_str().unwrap())]));
        }
    }
    assert_eq!(
        columns::read(record["parents"].as_str().unwrap()).len(),
        record["states"].as_object().unwrap().len()
    );
    seen.len()
}

/// All that is recorded of a state is what the core says of it.
fn same(
    reader: &Reader<'_>,
    session: &mut Session,
    loaded: &Value,
    request: Value,
    index: usize,
    line: Option<&str>,
) {
    let mut core = |what: &str, more: Value| {
        let mut request = request.clone();
        request["do"] = json!(what);
        more.as_object().unwrap().iter().for_each(|(k, v)| request[k] = v.clone());
        ask(session, &request)
    };
    assert_eq!(reader.json("shown", index), core("shown", json!({})), "{request}");
    assert_eq!(reader.text("draw", index), bare(core("draw", json!({}))["svg"].as_str().unwrap()));
    for view in ["plain", "colours"] {
        assert_eq!(
            reader.text(view, 0),
            bare(core("draw", json!({ "view": view }))["svg"].as_str().unwrap())
        );
    }
    assert_eq!(json!(reader.text("pinout", index)), core("pinout", json!({}))["html"]);
    let points: Vec<&str> =
        loaded["points"].as_array().unwrap().iter().map(|p| p.as_str().unwrap()).collect();
    for (i, point) in points.iter().enumerate() {
        let mut lines: Vec<String> =
            reader.text(&format!("w{i}"), index).split('\n').map(str::to_owned).collect();
        line.into_iter().for_each(|line| lines.insert(2, line.to_owned()));
        assert_eq!(json!(lines.join("\n")), core("point", json!({ "point": point }))["text"], "{request}");
        let full = (index as u64) < reader.record["full"].as_u64().unwrap();
        let supplies = reader.record["supplies"].as_array().unwrap();
        let mut blacks = vec![(None, "ground", full)];
        for black in reader.record["blacks"][i].as_array().unwrap().iter().filter(|_| full) {
            let j = black.as_u64().unwrap() as usize;
            blacks.push((Some(j), points[j], supplies.contains(black)));
        }
        for (place, black, lamp) in blacks {
            for (letter, instrument) in
                [("m", "meter"), ("l", "lamp")].into_iter().take(1 + usize::from(lamp))
            {
                let name = place.map_or_else(|| format!("{letter}{i}"), |j| format!("{letter}{i}.{j}"));
                let said = core("meter", json!({ "red": point, "black": black, "instrument": instrument }));
                let read = reader.json(&name, index);
                assert_eq!(
                    (&read["words"], &read["lamp"]),
                    (&said["words"], &said["lamp"]),
                    "{request} {point} {black}"
                );
                assert_eq!(reader.json(&format!("c{i}"), index), said["cautions"]);
            }
        }
    }
}

#[test]
fn a_record_says_what_the_core_says() {
    let load = json!({ "do": "load", "text": TEXT });
    // Every combination: four without, four with the lamp unplugged; and what can be pulled and unplugged.
    assert!(compare(&load, 64) >= 8);
    // Less room: rest and the scenarios are there, and nothing is there in part.
    assert_eq!(compare(&load, 0), 3);
    assert!(compare(&load, 6) <= 6);
}

#[test]
fn a_circuit_of_the_corpus_is_recorded_as_the_core_says() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../corpus/circuits/");
    for name in ["shop_units", "unicode_names", "first_lamp"] {
        let text = std::fs::read_to_string(format!("{root}{name}.keyon")).unwrap();
        assert!(compare(&json!({ "do": "load", "text": text }), 12) > 0, "{name}");
    }
}

#[test]
fn numbers_are_read_as_they_are_written() {
    let all = [0, 1, 44, 45, 46, 2024, 2025, 91_125, 7_000_000];
    assert_eq!(columns::read(&columns::numbers(all.into_iter())), all);
}

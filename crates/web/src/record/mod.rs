//! A circuit's answers written down beforehand, for a page that computes nothing: in every state of [`chosen`], all that a
//! page asks of the core, from the same functions. `crates/keyon/web/recorded.js` reads it.

mod chosen;
mod columns;
mod leads;
mod rows;

use crate::{answers, describe, point, read};
use chosen::Chosen;
use columns::Columns;
use keyon_circuit::{ids::*, model::Circuit};
use keyon_present::{Standing, View, about::Asked, shown::shown_points};
use keyon_solve::{Cancel, Solution, State, solve};
use serde_json::{Value, json};
use std::{
    collections::BTreeMap,
    sync::atomic::{AtomicUsize, Ordering},
};

/// How many states a page holds where nothing else is said.
pub const MOST: usize = 64;

/// The record of the circuit that a request to load it gives (`name`, `text`, `libraries`), with at most so many states; those
/// of rest and of the scenarios are always in it.
///
/// # Errors
/// Where the core has no answer.
pub fn record(request: &Value, most: usize, progress: &dyn Cancel) -> Result<Value, String> {
    let elaboration = read(request);
    let circuit = &elaboration.circuit;
    let chosen = Chosen::of(&elaboration, most)?;
    let points: Vec<PointId> = shown_points(circuit, None).iter().map(|p| p.point).collect();
    let leads = leads::Leads::new(circuit, &points, point(circuit, "ground")?);
    let standing = Standing::new(circuit);
    let page = |index: usize| -> Result<Texts, String> {
        let Some(place) = chosen.states.get(index) else { return Ok(Vec::new()) };
        let solution = solve(circuit, &place.state);
        let asked = Asked { scenario: place.scenario, said: place.said.clone(), held: Vec::new() };
        let mut texts = vec![
            ("shown".to_owned(), answers::shown(circuit, &solution, &asked)?.to_string()),
            ("draw".to_owned(), bare(&standing.svg(circuit, &solution))),
            ("pinout".to_owned(), answers::pinouts(circuit, &place.state)?),
        ];
        points_of(circuit, &solution, &asked, &points, &mut texts);
        leads.write(circuit, &solution, index < chosen.full, &mut texts);
        Ok(texts)
    };
    let mut texts: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for each in in_order(chosen.states.len(), &page, progress) {
        each?.into_iter().for_each(|(name, text)| texts.entry(name).or_default().push(text));
    }
    let mut columns = Columns::new(chosen.states.iter().map(|s| s.parent).collect());
    texts.insert("plain".into(), vec![bare(&answers::drawing(circuit, View::Plain))]);
    texts.insert("colours".into(), vec![bare(&answers::drawing(circuit, View::Insulation))]);
    let texts: Vec<(String, Vec<usize>)> =
        texts.into_iter().map(|(name, versions)| (name, rows::write(&mut columns, &versions))).collect();
    let first = State::rest(circuit);
    let view = chosen.bases.get(chosen.initial).map_or(&first, |base| &base.state);
    let mut out = columns.written(texts);
    out.insert("circuit".into(), Value::Object(describe(&elaboration)));
    out.insert("bases".into(), chosen.bases_json(circuit));
    out.insert("states".into(), chosen.keys_json());
    out.insert("full".into(), json!(chosen.full));
    out.insert("all".into(), json!(chosen.all));
    out.insert("blacks".into(), leads.blacks_json());
    out.insert("supplies".into(), leads.supplies_json());
    out.insert("table".into(), json!(answers::table(circuit, view)?));
    Ok(Value::Object(out))
}

/// What a page calls texts, and what they say in a state.
type Texts = Vec<(String, String)>;

/// Does so many pieces of work on all processors; the results are in the order of the pieces.
fn in_order<T: Send>(count: usize, work: &(dyn Fn(usize) -> T + Sync), progress: &dyn Cancel) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let many = std::thread::available_parallelism().map_or(1, usize::from).min(count);
    let one = || {
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= count {
                return done;
            }
            progress.progress(index as u64, count as u64);
            done.push((index, work(index)));
        }
    };
    let mut all: Vec<(usize, T)> = std::thread::scope(|scope| {
        let others: Vec<_> = (1..many).map(|_| scope.spawn(one)).collect();
        let mut all = one();
        for other in others {
            all.extend(other.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)));
        }
        all
    });
    all.sort_by_key(|&(index, _)| index);
    all.into_iter().map(|(_, result)| result).collect()
}

/// A drawing as it stands inside HTML, which knows what it is: no page need hold an address.
fn bare(svg: &str) -> String {
    svg.replacen(" xmlns=\"http://www.w3.org/2000/svg\"", "", 1)
}

/// The way to every point, and what to take care of there.
fn points_of(circuit: &Circuit, solution: &Solution, asked: &Asked, points: &[PointId], texts: &mut Texts) {
    for (index, &point) in points.iter().enumerate() {
        let mut way = answers::way(circuit, solution, point, asked);
        // The page says which scenario it is: states that several scenarios come to are there once.
        if let Some(line) = asked.scenario_line(circuit) {
            way = way.replacen(&format!("\n{line}\n"), "\n", 1);
        }
        texts.push((format!("w{index}"), way));
        texts.push((format!("c{index}"), json!(answers::cautions(circuit, solution, point)).to_string()));
    }
}

#[cfg(test)]
mod tests;

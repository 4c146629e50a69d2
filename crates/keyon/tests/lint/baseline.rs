//! `--baseline`.

use crate::common::*;
use std::fs;

#[test]
fn only_what_is_new_is_told_also_after_lines_shifted() {
    let folder = folder("lint_baseline");
    let file = folder.join("a.keyon");
    fs::write(&file, NO_RETURN).unwrap();
    let missing = keyon_in(&folder, &["check", ".", "--baseline", "known.json"]);
    assert_eq!(missing.code, 2);
    assert!(missing.err.contains("`--write-baseline` makes it"), "{}", missing.err);
    let wrote = keyon_in(&folder, &["check", ".", "--baseline", "known.json", "--write-baseline"]);
    assert_eq!((wrote.code, wrote.out.as_str()), (0, "1 finding written to known.json\n"));
    let known = fs::read_to_string(folder.join("known.json")).unwrap();
    let check = |args: &[&str]| keyon_in(&folder, &[&["check", "--baseline", "known.json"], args].concat());
    assert_eq!(check(&["."]).out, "1 file checked: nothing found; 1 known from the baseline\n");

    fs::write(&file, format!("# one line more\n\n{NO_RETURN}")).unwrap();
    assert_eq!(check(&["."]).code, 0);
    // Named otherwise, from another folder: still the same.
    assert_eq!(check(&["a.keyon"]).code, 0);

    fs::write(&file, format!("{NO_RETURN}lamp other 5 W 12 V\n")).unwrap();
    let more = check(&[".", "--format", "json"]);
    assert_eq!(more.code, 1);
    let json = more.json();
    let findings = json["findings"].as_array().unwrap();
    assert!(
        !findings.is_empty() && findings.iter().all(|f| f["message"].as_str().unwrap().contains("other"))
    );

    fs::write(&file, SOUND).unwrap();
    let mended = check(&["."]);
    assert!(mended.out.contains("0 known from the baseline, 1 of its entries are mended"), "{}", mended.out);
    // The same bytes each time it is written.
    fs::write(&file, NO_RETURN).unwrap();
    check(&[".", "--write-baseline"]);
    assert_eq!(fs::read_to_string(folder.join("known.json")).unwrap(), known);
}

#[test]
fn what_is_no_baseline_is_refused() {
    let folder = folder("lint_baseline_bad");
    fs::write(folder.join("a.keyon"), SOUND).unwrap();
    for text in ["", "{}", "[]", "{\"version\": 9, \"findings\": []}", "{\"version\": 1, \"findings\": [{}]}"]
    {
        fs::write(folder.join("known.json"), text).unwrap();
        let ran = keyon_in(&folder, &["check", ".", "--baseline", "known.json"]);
        assert_eq!(ran.code, 2, "{text}");
        assert!(ran.err.contains("`known.json` is no baseline"), "{}", ran.err);
    }
    assert_eq!(keyon_in(&folder, &["check", ".", "--write-baseline"]).code, 2);
}

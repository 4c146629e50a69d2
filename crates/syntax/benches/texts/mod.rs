//! The texts whose reading is measured.

/// `lines` lines of wires, as long as such lines are in practice.
pub(crate) fn wires(lines: usize) -> String {
    (0..lines)
        .map(|i| {
            format!("wire {i}  S{} -> valve_{}.1   0.75 mm2  OG/BK  2.4 m   # to the boom\n", i / 4, i / 2)
        })
        .collect()
}

/// The circuits and parts of the corpus, one after the other and again, cut behind an item once there are `lines` lines.
pub(crate) fn mixed(lines: usize) -> String {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../corpus/");
    let mut texts = Vec::new();
    for folder in ["circuits", "parts"] {
        let files = std::fs::read_dir(format!("{root}{folder}")).into_iter().flatten().flatten();
        let mut paths: Vec<_> = files.map(|file| file.path()).collect();
        paths.sort();
        texts.extend(paths.iter().filter_map(|path| std::fs::read_to_string(path).ok()));
    }
    let corpus = texts.join("\n");
    let (mut out, mut count) = (String::new(), 0);
    for line in corpus.split_inclusive('\n').cycle().take(2 * lines.max(1)) {
        if count >= lines && line.trim().is_empty() {
            break;
        }
        out.push_str(line);
        count += 1;
    }
    out
}

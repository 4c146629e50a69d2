//! A sheet as Markdown. The drawing stands beside it as a file, which `figure` names.

use super::{
    Sheet,
    answers::{blanked, key_grid},
};
use crate::grid::escape_markdown;

/// The learner's side, or the key.
pub fn sheet_markdown(sheet: &Sheet, key: bool, figure: Option<&str>) -> String {
    let head = escape_markdown(&sheet.title);
    let mut out = if key { format!("# Answer key: {head}\n\n") } else { format!("# {head}\n\n") };
    out.push_str(&format!("{}\n\n", escape_markdown(&sheet.circuit)));
    if !key {
        out.push_str(
            "Name \\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_\\_ Date \\_\\_\\_\\_\\_\\_\\_\\_\n\n",
        );
    }
    for (label, text) in &sheet.given {
        out.push_str(&format!("- **{}** {}\n", escape_markdown(label), escape_markdown(text)));
    }
    out.push('\n');
    if key {
        for line in &sheet.fault {
            out.push_str(&format!("**{}**\n\n", escape_markdown(line)));
        }
    }
    if let Some(figure) = figure {
        let about = escape_markdown(&sheet.circuit.replace("  ", ": "));
        let file = figure.replace(['<', '>', '\n'], "");
        out.push_str(&format!("![Circuit diagram of {about}](<{file}>)\n\n"));
    }
    for (i, question) in sheet.questions.iter().enumerate() {
        out.push_str(&format!("## {}. {}\n\n", i + 1, escape_markdown(&question.text)));
        if key {
            if let Some(table) = &question.table {
                out.push_str(&format!("{}\n", table.markdown()));
            }
            if !question.answers.is_empty() {
                out.push_str(&format!("{}\n", key_grid(&question.answers).markdown()));
            }
            if let Some(proof) = &question.proof {
                out.push_str(&format!("{}\n", proof.markdown()));
            }
        } else if let Some(table) = &question.table {
            out.push_str(&format!("{}\n", blanked(table).markdown()));
        } else {
            for (what, blank) in &question.blanks {
                out.push_str(&format!("- {} {}\n", escape_markdown(what), escape_markdown(blank)));
            }
            out.push('\n');
        }
    }
    out.push_str(&format!("sheet {} · computed for teaching; the maker's data wins\n", sheet.hash));
    out
}

impl Sheet {
    /// The drawing as SVG: blank, or the key's with the states marked.
    pub fn drawing(&self, key: bool) -> &str {
        if key { &self.key_diagram } else { &self.diagram }
    }
}

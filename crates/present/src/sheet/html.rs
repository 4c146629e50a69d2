//! A sheet as one HTML file for the printer: A4 or US Letter, no figure broken across pages, pages numbered.

use super::{
    Question, Sheet,
    answers::{blanked, key_grid},
    paper::{MARGINS, Paper, Stand},
};
use crate::grid::escape_html;

const STYLE: &str = "
html { font: 11pt/1.4 system-ui, 'Helvetica Neue', Arial, sans-serif; color: #000; background: #fff; }
body { max-width: 190mm; margin: 0 auto; padding: 4mm; }
h1 { font-size: 17pt; margin: 0 0 1mm; }
h2 { font-size: 12pt; margin: 6mm 0 2mm; break-after: avoid; }
header p { margin: 0 0 2mm; }
.name { display: flex; gap: 8mm; margin: 3mm 0; }
.name span { flex: 1; border-bottom: 1px solid #000; padding-bottom: 4mm; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 1mm 4mm; margin: 2mm 0; }
dt { font-weight: 600; } dd { margin: 0; }
figure { margin: 4mm 0; break-inside: avoid; text-align: center; }
figure svg { width: auto; height: auto; }
.question { break-inside: avoid; }
table { border-collapse: collapse; margin: 2mm 0; font-size: 10pt; }
th, td { border: 1px solid #555; padding: 1mm 2mm; text-align: left; vertical-align: top; }
td.blank { min-width: 30mm; height: 8mm; }
.line { border-bottom: 1px solid #777; height: 8mm; }
footer { margin-top: 8mm; font-size: 8pt; color: #333; }
@media print { body { max-width: none; padding: 0; } }
";

/// How pages and drawings stand on the paper.
fn page_style(paper: Paper, foot: &str) -> String {
    let size = paper.css();
    let [above, beside, below] = MARGINS;
    let page = |name: &str, size: &str| {
        format!(
            "@page {name} {{ size: {size}; margin: {above}mm {beside}mm {below}mm; @bottom-right {{ content: counter(page) \" / \" \
             counter(pages); font-size: 8pt; }} @bottom-left {{ content: \"{foot}\"; font-size: 8pt; }} }}\n"
        )
    };
    let mut out = page("", size) + &page("turned", &format!("{size} landscape"));
    for (class, stand) in [("under", Stand::Under), ("alone", Stand::Alone), ("turned", Stand::Turned)] {
        let [wide, high] = paper.room(stand);
        out.push_str(&format!(
            "figure.{class} svg {{ max-width: min(100%, {wide}mm); max-height: {high}mm; }}\n"
        ));
    }
    out.push_str("@media print { figure.alone { break-before: page; } figure.turned { page: turned; } }\n");
    out
}

/// The learner's side, or the key.
pub fn sheet_html(sheet: &Sheet, key: bool, paper: Paper) -> String {
    let what = if key { "answer key, " } else { "" };
    let foot = escape_css(&format!("{what}sheet {}", sheet.hash));
    let page = page_style(paper, &foot);
    let title = escape_html(&sheet.title);
    let head = if key { format!("Answer key: {title}") } else { title.clone() };
    let mut out = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{head}</title>\n\
         <style>{STYLE}{page}</style>\n</head>\n<body>\n<header>\n<h1>{head}</h1>\n<p>{}</p>\n",
        escape_html(&sheet.circuit)
    );
    if !key {
        out.push_str("<div class=\"name\"><span>Name</span><span>Date</span></div>\n");
    }
    out.push_str("</header>\n<dl>\n");
    for (label, text) in &sheet.given {
        out.push_str(&format!("<dt>{}</dt><dd>{}</dd>\n", escape_html(label), escape_html(text)));
    }
    out.push_str("</dl>\n");
    if key {
        for line in &sheet.fault {
            out.push_str(&format!("<p><strong>{}</strong></p>\n", escape_html(line)));
        }
    }
    let diagram = if key { &sheet.key_diagram } else { &sheet.diagram };
    let stand = paper.stand(keyon_draw::size_of(diagram));
    let class = match stand {
        Stand::Under => "under",
        Stand::Alone => "alone",
        Stand::Turned => "turned",
    };
    let figure = format!("<figure class=\"{class}\">\n{diagram}</figure>\n");
    // On a page of its own it comes last: the questions go on under the head.
    if stand == Stand::Under {
        out.push_str(&figure);
    }
    for (i, question) in sheet.questions.iter().enumerate() {
        out.push_str(&format!(
            "<section class=\"question\">\n<h2>{}. {}</h2>\n",
            i + 1,
            escape_html(&question.text)
        ));
        if key {
            answers(&mut out, question);
        } else {
            blanks(&mut out, question);
        }
        out.push_str("</section>\n");
    }
    out.push_str(&format!(
        "<footer>{what}sheet {} · computed for teaching; the maker's data wins</footer>\n",
        escape_html(&sheet.hash)
    ));
    if stand != Stand::Under {
        out.push_str(&figure);
    }
    out.push_str("</body>\n</html>\n");
    out
}

fn blanks(out: &mut String, question: &Question) {
    if let Some(table) = &question.table {
        out.push_str(&blanked(table).html());
        return;
    }
    if question.blanks.iter().all(|(what, _)| what.is_empty()) {
        for _ in &question.blanks {
            out.push_str("<div class=\"line\"></div>\n<div class=\"line\"></div>\n");
        }
        return;
    }
    out.push_str("<table>\n");
    for (what, blank) in &question.blanks {
        out.push_str(&format!("<tr><td>{}</td><td class=\"blank\">{blank}</td></tr>\n", escape_html(what)));
    }
    out.push_str("</table>\n");
}

fn answers(out: &mut String, question: &Question) {
    if let Some(table) = &question.table {
        out.push_str(&table.html());
    }
    if !question.answers.is_empty() {
        out.push_str(&key_grid(&question.answers).html());
    }
    if let Some(proof) = &question.proof {
        out.push_str(&proof.html());
    }
}

/// A text inside a CSS string.
fn escape_css(text: &str) -> String {
    text.chars().filter(|c| c.is_ascii_alphanumeric() || matches!(c, ' ' | ',')).collect()
}

//! A page of its own, for a table that is asked for alone: no scripts, nothing fetched, prints on white.

use crate::{about, grid::escape_html, pinout, probe_plan::PlanPage, probe_print};
use keyon_circuit::model::Circuit;

/// How tables lie on a page.
const STYLE: &str = "\
body { font-family: system-ui, sans-serif; margin: 2rem; color: #1a1a1a; background: #fff; }
table { border-collapse: collapse; margin: 1rem 0; font-variant-numeric: tabular-nums; }
th, td { border: 1px solid #999; padding: 0.25rem 0.6rem; text-align: left; white-space: nowrap; }
thead th { border-bottom: 2px solid #333; }
.key { background: #f2f2f2; }
.figure { text-align: right; }
footer { font-size: 0.85rem; color: #444; }
@media print { body { margin: 0; } tr { break-inside: avoid; } thead { display: table-header-group; } }
";

/// For pages that hang in a workshop: wide, words wrapped, what belongs together on one sheet.
const SHEET: &str = "\
th, td { white-space: normal; vertical-align: top; }
.key, .figure { white-space: nowrap; }
section { break-inside: avoid; }
h2, h3 { margin: 1.2rem 0 0.4rem; break-after: avoid; }
section p { margin: 0.2rem 0; font-size: 0.85rem; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 0.2rem 1rem; margin: 0.5rem 0; }
dt { font-weight: 600; } dd { margin: 0; }
.caution { border-left: 0.3rem solid #000; padding-left: 0.5rem; font-weight: 600; }
";

/// A page: its title, which need not be escaped, and what stands below it.
pub(crate) fn page(title: &str, style: &str, body: &str) -> String {
    let title = escape_html(title);
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{title}</title>\n\
         <style>\n{STYLE}{style}</style>\n</head>\n<body>\n<h1>{title}</h1>\n{body}</body>\n</html>\n"
    )
}

/// Pin-outs as a page to print and laminate.
pub fn pinout_page(circuit: &Circuit, tables: &[pinout::PinoutTable]) -> String {
    let title = circuit.title.as_deref().unwrap_or(circuit.name.as_str());
    let style = format!("@page {{ size: A4 landscape; margin: 12mm; }}\n{SHEET}");
    let foot = format!("<footer>\n<p>{}</p>\n</footer>\n", escape_html(about::FOOT));
    // The connectors stand right below the circuit's title.
    let tables = pinout::pinout_html(tables).replace("<h3>", "<h2>").replace("</h3>", "</h2>");
    page(&format!("{title}: pin-out"), &style, &(tables + &foot))
}

/// A probe plan as a page to print.
pub fn probe_page(plan: &PlanPage) -> String {
    let style = format!("@page {{ size: A4; margin: 15mm; }}\n{SHEET}");
    let body = probe_print::html(plan);
    // What it starts from stands between its title, which heads the page, and its steps.
    let steps = body.split_once('\n').map_or("", |(_, steps)| steps);
    let steps = steps.replace("<h3>", "<h2>").replace("</h3>", "</h2>");
    let intro = plan.intro.iter().map(|(label, text)| format!("<p>{label}: {}</p>\n", escape_html(text)));
    page(&plan.title.replace("  ", ": "), &style, &(intro.collect::<String>() + &steps))
}

//! Answers as people and programs read them: figures, paths, states, truth tables and traces as text, Markdown, CSV,
//! HTML and JSON. Pure functions over a circuit and its solution; nothing about a circuit is decided here.

pub mod about;
pub mod answer;
pub mod cautions;
pub mod compare;
pub mod drawing;
mod export;
pub mod figure;
pub mod grid;
mod html_page;
pub mod json;
pub mod path;
pub mod pinout;
pub mod place;
mod plot;
pub mod probe_choice;
pub mod probe_plan;
pub mod probe_print;
pub mod reports;
pub mod schemas;
pub mod sheet;
pub mod shown;
pub mod state;
mod sweep;
pub mod table;
pub mod trace;
pub mod trace_text;

pub use answer::{Answer, Wanted};
pub use drawing::{
    Drawn, Standing, View, beside_svg, drawing_layout, drawing_svg, face_svg, things_about, wire_colour,
};
pub use export::export_json;
pub use html_page::{pinout_page, probe_page};
pub use json::{figures_json, state_json, table_json, trace_json};
pub use path::{feed_words, ground_words};
pub use state::state_text;
pub use sweep::{sweep_csv, sweep_json, sweep_markdown, sweep_svg, sweep_text};
pub use table::{groups_html, groups_markdown, table_csv, table_html, table_markdown, table_text};
pub use trace::trace;
pub use trace_text::trace_text;

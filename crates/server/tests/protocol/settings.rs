//! `keyon.toml`: what holds in the terminal holds in the editor.

use crate::{client::Client, diagnostics::Folder};
use serde_json::{Value, json};

/// A lamp that is fed without a fuse: a warning.
const UNFUSED: &str = "\
circuit lamp \"Test lamp\"
supply battery 12.6 V
ground G1
switch lamp_switch battery -> work.1
lamp work \"Work lamp\" 21 W 12 V
wire 1 work.2 -> G1 1.0 mm2 BK 1.0 m
";

fn shows(uri: &str, wanted: &[(&str, u64)]) -> impl Fn(&Value) -> bool {
    let (uri, wanted) =
        (uri.to_owned(), wanted.iter().map(|(c, s)| ((*c).to_owned(), *s)).collect::<Vec<_>>());
    move |message| {
        let shown = message["params"]["diagnostics"].as_array();
        message["params"]["uri"] == uri.as_str()
            && shown.is_some_and(|shown| {
                let pairs = shown
                    .iter()
                    .map(|d| (d["code"].as_str().unwrap().to_owned(), d["severity"].as_u64().unwrap()));
                pairs.eq(wanted.iter().cloned())
            })
    }
}

#[test]
fn the_nearest_settings_hold_and_changes_of_them_are_followed() {
    let folder = Folder::new("settings");
    let uri = folder.write("a.keyon", UNFUSED);
    let mut client = Client::start();
    client.open(&uri, 1, UNFUSED);
    client.wait_for("the usual level", shows(&uri, &[("unfused-feed", 2)]));
    let settings = folder.write("keyon.toml", "[rules]\nunfused-feed = \"error\"\n");
    let watched = |kind: u64| json!({ "changes": [{ "uri": settings, "type": kind }] });
    client.notify("workspace/didChangeWatchedFiles", watched(1));
    client.wait_for("the level that was set", shows(&uri, &[("unfused-feed", 1)]));
    folder.write("keyon.toml", "[rules]\nunfused-feed = \"off\"\nno-such-rule = \"off\"\n");
    client.notify("workspace/didChangeWatchedFiles", watched(2));
    client.wait_for("the mistake in the settings", shows(&settings, &[("settings", 1)]));
    client.wait_for("nothing", shows(&uri, &[]));
    folder.remove("keyon.toml");
    client.notify("workspace/didChangeWatchedFiles", watched(3));
    client.wait_for("the usual level again", shows(&uri, &[("unfused-feed", 2)]));
    client.wait_for("no mistake any more", shows(&settings, &[]));
    client.finish();
}

#[test]
fn documents_without_a_folder_have_the_usual_settings() {
    let mut client = Client::start();
    client.open("untitled:a.keyon", 1, UNFUSED);
    client.wait_for("the usual level", shows("untitled:a.keyon", &[("unfused-feed", 2)]));
    client.finish();
}

//! A drawing as pixels. The letters come from a face that is part of the program, so that every machine draws the same.

use resvg::{tiny_skia, usvg};
use std::sync::Arc;

/// Pixels that a drawing may have at the most: about 20,000 by 12,000.
const MOST: f32 = 240e6;

/// Paints an SVG, `scale` pixels for each of its own.
pub(crate) fn png(svg: &str, scale: f32) -> Result<Vec<u8>, String> {
    let mut options = usvg::Options { font_family: "Hack".to_owned(), ..usvg::Options::default() };
    let fonts = options.fontdb_mut();
    fonts.load_font_source(usvg::fontdb::Source::Binary(Arc::new(epaint_default_fonts::HACK_REGULAR)));
    for set in [usvg::fontdb::Database::set_monospace_family, usvg::fontdb::Database::set_sans_serif_family] {
        set(fonts, "Hack");
    }
    let tree = usvg::Tree::from_str(svg, &options)
        .map_err(|error| format!("the drawing cannot be painted: {error}"))?;
    let size = tree.size();
    let (width, height) = ((size.width() * scale).ceil(), (size.height() * scale).ceil());
    if width * height > MOST {
        return Err(format!(
            "a picture of {width} by {height} pixels is too large: give a smaller --scale, or write .svg"
        ));
    }
    let mut pixels = tiny_skia::Pixmap::new(width as u32, height as u32).ok_or("the drawing is empty")?;
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut pixels.as_mut());
    pixels.encode_png().map_err(|error| format!("the picture cannot be written: {error}"))
}

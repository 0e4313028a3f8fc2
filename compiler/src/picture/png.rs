//! A picture as PNG.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};
use std::sync::Arc;

/// Why there is no PNG.
#[derive(Debug, thiserror::Error)]
pub enum PngError {
    /// The SVG can't be read: a fault of ours.
    #[error("the drawing can't be read back: {0}")]
    Svg(#[from] resvg::usvg::Error),
    /// Wider or higher than can be held.
    #[error("a picture {0} pixels wide is too large")]
    Size(u32),
    /// It can't be written as PNG.
    #[error("the picture can't be written: {0}")]
    Encode(String),
}

/// The SVG as PNG, so many pixels wide, with the font of the project and no other.
///
/// # Errors
/// If the width is 0 or more than memory holds.
pub fn png(svg: &str, width: u32) -> Result<Vec<u8>, PngError> {
    let mut options = Options::default();
    for font in super::FONTS {
        options.fontdb_mut().load_font_source(resvg::usvg::fontdb::Source::Binary(Arc::new(font)));
    }
    let tree = Tree::from_str(svg, &options)?;
    if width == 0 || width > 20_000 {
        return Err(PngError::Size(width));
    }
    #[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let (scale, height) = {
        let scale = width as f32 / tree.size().width();
        (scale, (tree.size().height() * scale).ceil() as u32)
    };
    let mut pixels = Pixmap::new(width, height).ok_or(PngError::Size(width))?;
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut pixels.as_mut());
    pixels.encode_png().map_err(|e| PngError::Encode(e.to_string()))
}

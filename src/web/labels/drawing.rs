//! A label as a picture (SVG): lengths are in modules, the little squares of the code.

use std::fmt::Write as _;

use qrcode::types::QrError;
use qrcode::{Color, EcLevel, QrCode};

/// The empty margin that readers need around a code (ISO/IEC 18004).
const QUIET: usize = 4;

/// Height of the line under the code.
const LINE: usize = 7;

/// Height of its letters at most; how wide one is against that, in a font whose letters are all alike
/// (common practice, no source); and where they stand.
const LETTER: f64 = 5.0;
const LETTER_WIDTH: f64 = 0.62;
const BASE: usize = 4;

/// A code that holds `page`, and the serial under it if `written`.
///
/// # Errors
/// When the text is too long for any code.
pub(super) fn label(page: &str, serial: &str, written: bool) -> Result<String, QrError> {
    let code = code(page)?;
    let side = code.width() + 2 * QUIET;
    let height = if written { side + LINE } else { side };
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {side} {height}\" \
         shape-rendering=\"crispEdges\">\
         <title>{serial}</title>\
         <path fill=\"#fff\" d=\"M0 0h{side}v{height}H0z\"/>\
         <path fill=\"#000\" d=\"{}\"/>",
        dark(&code)
    );
    if written {
        // Writing to a text can't fail.
        let _ = write!(
            svg,
            "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\" font-family=\"monospace\" \
             font-weight=\"bold\" font-size=\"{:.2}\">{serial}</text>",
            crate::units::count(side) / 2.0,
            side + BASE,
            size(serial, side),
        );
    }
    svg.push_str("</svg>");
    Ok(svg)
}

/// The smallest code of which a quarter may be dirty or scratched away, or nearly a third where that fits
/// in the same size: people walk on what it is stuck to (levels Q and H of ISO/IEC 18004).
fn code(text: &str) -> Result<QrCode, QrError> {
    let least = QrCode::with_error_correction_level(text, EcLevel::Q)?;
    Ok(QrCode::with_version(text, least.version(), EcLevel::H).unwrap_or(least))
}

/// Its dark modules as a path: one rectangle for each row's neighbours.
fn dark(code: &QrCode) -> String {
    let mut path = String::new();
    for (y, row) in code.to_colors().chunks(code.width()).enumerate() {
        let mut from = 0;
        for same in row.chunk_by(|one, next| one == next) {
            if same.first() == Some(&Color::Dark) {
                let (x, y, long) = (from + QUIET, y + QUIET, same.len());
                let _ = write!(path, "M{x} {y}h{long}v1h-{long}z");
            }
            from += same.len();
        }
    }
    path
}

/// So high that the serial is no wider than the code.
fn size(serial: &str, side: usize) -> f64 {
    let (letters, side) = (
        crate::units::count(serial.chars().count()),
        crate::units::count(side - QUIET),
    );
    (side / letters / LETTER_WIDTH).min(LETTER)
}

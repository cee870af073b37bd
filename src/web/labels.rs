//! Labels: a QR code (ISO/IEC 18004) that opens a panel's page on a phone, with its serial in words.

use std::fmt::Write;

use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use qrcode::{Color, EcLevel, QrCode};
use serde::Deserialize;
use utoipa::IntoParams;

use super::problem::{Problem, problem};
use crate::floor::serial;

/// Blank modules around the code (ISO/IEC 18004: four).
const QUIET: usize = 4;

/// The longest address that a label leads to, in bytes: a code of more is too fine for a small label.
const LONGEST: usize = 200;

/// How phones reach the dashboard.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(super) struct LeadsTo {
    /// Address of this dashboard as phones reach it.
    #[param(example = "http://192.168.1.20:8080")]
    at: String,
}

/// A QR code that opens a panel's page, as a picture to print: a quarter of it may be scratched away.
#[utoipa::path(
    get,
    path = "/api/v1/labels/{file}",
    tag = "book",
    params(
        ("file" = String, Path, description = "The panel's serial, and `.svg`", example = "M017.svg"),
        LeadsTo
    ),
    responses(
        (status = 200, description = "The picture", body = String, content_type = "image/svg+xml"),
        (status = 400, description = "That is no address", body = Problem),
        (status = 404, description = "That can't be a serial", body = Problem)
    )
)]
pub(super) async fn label(
    Path(file): Path<String>,
    query: Result<Query<LeadsTo>, QueryRejection>,
) -> Response {
    let Some(serial) = file.strip_suffix(".svg").filter(|it| serial::valid(it)) else {
        let text = "A label is named by a serial of 1 to 32 letters, digits, hyphens, points or \
                    underscores, and .svg.";
        return problem(StatusCode::NOT_FOUND, "no_such_label", text);
    };
    let at = match query {
        Ok(Query(LeadsTo { at })) => at,
        Err(why) => return problem(StatusCode::BAD_REQUEST, "bad_address", why.body_text()),
    };
    let Some(at) = address(&at) else {
        let text = "`at` is where phones reach this dashboard, such as http://192.168.1.20:8080.";
        return problem(StatusCode::BAD_REQUEST, "bad_address", text);
    };
    match picture(&format!("{at}/#/panel/{}", escaped(serial))) {
        Ok(svg) => ([(CONTENT_TYPE, "image/svg+xml")], svg).into_response(),
        Err(why) => problem(StatusCode::BAD_REQUEST, "bad_address", why.to_string()),
    }
}

/// An address without a slash at its end, if it can be one of a dashboard.
fn address(said: &str) -> Option<&str> {
    let said = said.trim().trim_end_matches('/');
    let host = said
        .strip_prefix("http://")
        .or_else(|| said.strip_prefix("https://"))?;
    let plain = |c: char| c.is_ascii_graphic() && !"<>\"'`\\{}|^#?@".contains(c);
    let good = !host.is_empty() && said.len() <= LONGEST && host.chars().all(plain);
    good.then_some(said)
}

/// A serial as a fragment of an address has it (RFC 3986: what is not unreserved is written in percent).
fn escaped(serial: &str) -> String {
    let mut out = String::new();
    for byte in serial.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._".contains(&byte) {
            out.push(char::from(byte));
        } else {
            // Writing into a String never fails.
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

/// The code of a text as a picture: one unit is a module.
fn picture(text: &str) -> Result<String, qrcode::types::QrError> {
    let code = QrCode::with_error_correction_level(text, EcLevel::Q)?;
    let width = code.width();
    let mut path = String::new();
    for (row, modules) in code.to_colors().chunks(width).enumerate() {
        let mut column = 0;
        for run in modules.chunk_by(|one, next| one == next) {
            if run[0] == Color::Dark {
                let (x, y, length) = (column + QUIET, row + QUIET, run.len());
                let _ = write!(path, "M{x} {y}h{length}v1h-{length}z");
            }
            column += run.len();
        }
    }
    let all = width + 2 * QUIET;
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {all} {all}\" \
         shape-rendering=\"crispEdges\"><path fill=\"#fff\" d=\"M0 0h{all}v{all}H0z\"/>\
         <path d=\"{path}\"/></svg>"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_of_http_and_plain() {
        for good in [
            "http://192.168.1.20:8080",
            "https://floor.local",
            " http://[fe80::1]:8080/ ",
            "http://booth/litfloor/",
        ] {
            assert_eq!(address(good), Some(good.trim().trim_end_matches('/')));
        }
        let long = format!("http://{}", "a".repeat(LONGEST));
        for bad in [
            "",
            "floor.local",
            "ftp://floor.local",
            "http://",
            "javascript:alert(1)",
            "http://a b",
            "http://a\"onload=",
            "http://a/#/panel",
            &long,
        ] {
            assert_eq!(address(bad), None, "{bad}");
        }
    }

    /// RFC 3986, 2.1 and 2.5: bytes of UTF-8, in percent with capital hexadecimal digits.
    #[test]
    fn serials_are_written_in_percent() {
        assert_eq!(escaped("P-017._"), "P-017._");
        assert_eq!(escaped("Ä1"), "%C3%841");
    }

    /// The finder patterns of ISO/IEC 18004 stand in three corners: a dark frame of 7 × 7.
    #[test]
    fn a_picture_has_finders_and_a_quiet_zone() {
        let svg = picture("http://192.168.1.20:8080/#/panel/M017").unwrap();
        let size: usize = {
            let from = svg.split("viewBox=\"0 0 ").nth(1).unwrap();
            from.split(' ').next().unwrap().parse().unwrap()
        };
        // Versions have 17 + 4·n modules a side.
        assert_eq!((size - 2 * QUIET - 17) % 4, 0);
        let right = size - QUIET - 7;
        for (x, y) in [(QUIET, QUIET), (right, QUIET), (QUIET, right)] {
            for row in [y, y + 6] {
                assert!(svg.contains(&format!("M{x} {row}h7v1h-7z")), "{x} {row}");
            }
        }
    }
}

//! `/api/v1/labels/SERIAL.svg`: a label for a panel, whose code opens the panel's page on any phone.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Path, Query};
use axum::http::header::CONTENT_TYPE;
use axum::http::{StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use utoipa::IntoParams;

use super::problem::{Problem, problem};
use crate::floor::serial;

mod drawing;
#[cfg(test)]
mod tests;

/// An address has no more bytes. The code gets finer with every one, and a phone needs it coarse.
const LONGEST: usize = 128;

/// What a label leads to, and what is on it.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub(super) struct Wanted {
    /// Where phones reach the dashboard: `http://` or `https://`, a host, and a port if it is not the
    /// usual one.
    #[param(example = "http://192.168.1.20:8080")]
    at: String,
    /// Whether the serial is written under the code for people, too. Then the label is no square.
    #[param(inline, default = false)]
    text: Option<bool>,
}

/// A label to print and stick on a panel: a QR code that leads to the panel's page. The serial need not
/// be known yet.
#[utoipa::path(
    get,
    path = "/api/v1/labels/{file}",
    tag = "book",
    params(
        ("file" = String, Path, description = "The serial and `.svg`", example = "P17.svg"),
        Wanted
    ),
    responses(
        (status = 200, description = "The label", body = String, content_type = "image/svg+xml"),
        (status = 400, description = "No phone can open that address", body = Problem),
        (status = 404, description = "That can't be a serial", body = Problem)
    )
)]
pub(super) async fn label(
    Path(file): Path<String>,
    query: Result<Query<Wanted>, QueryRejection>,
) -> Response {
    let Some(serial) = file.strip_suffix(".svg").filter(|it| serial::valid(it)) else {
        let text = "A label is named by a serial of 1 to 32 letters, digits, hyphens, points or \
                    underscores, and .svg.";
        return problem(StatusCode::NOT_FOUND, "no_such_label", text);
    };
    let refused = |why: String| problem(StatusCode::BAD_REQUEST, "bad_address", why);
    let wanted = match query {
        Ok(Query(wanted)) => wanted,
        Err(rejection) => return refused(rejection.body_text()),
    };
    let page = match page(wanted.at.trim(), serial) {
        Ok(page) => page,
        Err(why) => return refused(why),
    };
    match drawing::label(&page, serial, wanted.text.unwrap_or(false)) {
        Ok(svg) => ([(CONTENT_TYPE, "image/svg+xml")], svg).into_response(),
        // No address and serial that got here are as long as that.
        Err(error) => refused(format!("no code can hold it: {error}")),
    }
}

/// The address of a panel's page on the dashboard that is reached `at` an address.
fn page(at: &str, serial: &str) -> Result<String, String> {
    let wanted = |why: &str| {
        Err(format!(
            "at must be where phones reach this dashboard, such as http://192.168.1.20:8080: {why}"
        ))
    };
    if at.len() > LONGEST {
        return wanted(&format!("it has more than {LONGEST} characters"));
    }
    let Ok(address) = at.parse::<Uri>() else {
        return wanted("this is no address");
    };
    let parts = address.scheme_str().zip(address.authority());
    let Some((scheme @ ("http" | "https"), authority)) = parts else {
        return wanted("it begins with http:// or https://");
    };
    // A name in front of the host hides where a code really leads.
    if authority.as_str().contains('@') {
        return wanted("it has no name and no password");
    }
    if address.path() != "/" || at.contains(['?', '#']) {
        return wanted("nothing stands behind the host and its port");
    }
    let host = authority.host();
    let port = authority.as_str().strip_prefix(host).unwrap_or_default();
    let number = port.strip_prefix(':').map(str::parse::<u16>);
    let port_is_good = port.is_empty() || matches!(number, Some(Ok(1..)));
    if host.is_empty() || !port_is_good {
        return wanted("a host, and a port of 1 to 65535 behind a colon");
    }
    Ok(format!(
        "{scheme}://{authority}/#/panel/{}",
        escaped(serial)
    ))
}

/// A serial as an address has it: what is neither letter, digit, `-`, `.` nor `_` of ASCII byte by byte
/// as `%C3` (RFC 3986, section 2).
fn escaped(serial: &str) -> String {
    let escape = |byte: u8| match byte {
        b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' => {
            char::from(byte).to_string()
        }
        _ => format!("%{byte:02X}"),
    };
    serial.bytes().map(escape).collect()
}

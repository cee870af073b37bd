//! `/api/v1/openapi.json`: the API described, from the types and routes themselves.

use axum::Json;
use utoipa::openapi;
use utoipa::openapi::security::{ApiKey, ApiKeyValue, Http, HttpAuthScheme, SecurityScheme};
use utoipa::{Modify, OpenApi};

use super::operator::COOKIE_NAME;

/// The description.
#[derive(OpenApi)]
#[openapi(
    info(
        title = "litfloor",
        description = "What a light-up floor shows, draws and is fed. Amperes are computed from \
                       the picture; `sensors` has what was measured."
    ),
    paths(
        super::api::floor,
        super::api::state,
        super::reload::reload,
        super::api::voltages,
        super::recorded::history,
        super::recorded::history_csv,
        super::recorded::energy,
        super::live::live,
        super::health::healthz,
        super::metrics::metrics,
        super::operator::routes::session,
        super::operator::routes::sign_in,
        super::operator::routes::sign_out,
        super::operator::routes::set_passphrase,
        super::limit::turn_down,
        super::pattern::start,
        super::pattern::step,
        super::pattern::stop,
        super::readings::sensors,
        super::readings::report,
        super::readings::renew,
        super::readings::calibrate,
        super::readings::stop_calibration,
        super::simulation::simulation,
        super::simulation::break_joint,
        super::faults::faults,
        super::faults::report_panel,
        super::faults::withdraw_evidence,
        super::book::faults::book_faults,
        super::book::faults::write_fault,
        super::book::faults::step_fault,
        super::book::panels::book_panels,
        super::book::panels::book_panel,
        super::book::panels::write_note,
        super::book::panels::write_bench,
        super::book::placing::place_panel,
        super::book::placing::unplace_panel,
        super::book::placing::book_checklist,
        super::book::placing::floor_diff,
        super::book::placing::floor_as_placed,
        super::book::export::book_json,
        super::book::export::book_csv,
        super::labels::label,
        super::survey::survey,
        super::survey::begin_survey,
        super::survey::stop_survey,
        super::survey::seen_in_survey,
        super::survey::undo_in_survey,
        super::stepping::routes::look,
        super::stepping::routes::begin,
        super::stepping::routes::end,
        super::stepping::routes::answer,
        super::stepping::routes::undo,
        super::stepping::routes::light,
        super::stepping::routes::corrected,
        super::stepping::routes::corrected_toml,
        openapi,
    ),
    modifiers(&Session)
)]
struct Description;

/// How the operator is known.
struct Session;

impl Modify for Session {
    fn modify(&self, description: &mut openapi::OpenApi) {
        let cookie = ApiKeyValue::with_description(
            COOKIE_NAME,
            "Set by POST /api/v1/session. While no passphrase is set, changes are taken from the \
             machine that litfloor runs on, without it.",
        );
        let parts = description.components.get_or_insert_default();
        let token = Http::new(HttpAuthScheme::Bearer);
        parts.add_security_scheme("readings", SecurityScheme::Http(token));
        parts.add_security_scheme("session", SecurityScheme::ApiKey(ApiKey::Cookie(cookie)));
    }
}

/// This description.
#[utoipa::path(
    get,
    path = "/api/v1/openapi.json",
    tag = "daemon",
    responses((status = 200, description = "OpenAPI 3.1", body = serde_json::Value))
)]
pub(super) async fn openapi() -> Json<openapi::OpenApi> {
    Json(Description::openapi())
}

#[cfg(test)]
pub(super) mod tests {
    use std::collections::BTreeSet;

    use serde_json::{Value, json};

    use super::super::routes;
    use super::super::testing::{Bench, ask, full_state};

    /// Faults of `value` against a JSON Schema, as far as this description uses the language
    /// (JSON Schema 2020-12: `$ref`, `type`, `enum`, `properties`, `required`, `items`,
    /// `prefixItems`, `additionalProperties`, `minimum`, `oneOf`). A key that is not known here
    /// is a fault too, so that none is skipped.
    pub(in super::super) fn faults(
        root: &Value,
        schema: &Value,
        value: &Value,
        at: &str,
    ) -> Vec<String> {
        let mut found = Vec::new();
        for (key, rule) in schema.as_object().expect(at) {
            match key.as_str() {
                "$ref" => {
                    let target = root
                        .pointer(&rule.as_str().unwrap()[1..])
                        .expect("a target");
                    found.extend(faults(root, target, value, at));
                }
                "type" => {
                    let kind = match value {
                        Value::Null => "null",
                        Value::Bool(_) => "boolean",
                        Value::Number(number) if number.is_f64() => "number",
                        Value::Number(_) => "integer",
                        Value::String(_) => "string",
                        Value::Array(_) => "array",
                        Value::Object(_) => "object",
                    };
                    let one = [rule.clone()];
                    let allowed = rule.as_array().map_or(&one[..], Vec::as_slice);
                    let fits =
                        |rule: &Value| rule == kind || (rule == "number" && kind == "integer");
                    if !allowed.iter().any(fits) {
                        found.push(format!("{at} is {kind}, not {rule}"));
                    }
                }
                "enum" => {
                    if !rule.as_array().unwrap().contains(value) {
                        found.push(format!("{at} is {value}, not one of {rule}"));
                    }
                }
                "minimum" => {
                    // It says nothing of what is no number.
                    if value.is_number() && value.as_f64() < rule.as_f64() {
                        found.push(format!("{at} is below {rule}"));
                    }
                }
                "required" => {
                    for name in rule.as_array().unwrap() {
                        if value.get(name.as_str().unwrap()).is_none() {
                            found.push(format!("{at} lacks {name}"));
                        }
                    }
                }
                "properties" => {
                    for (name, part) in value.as_object().into_iter().flatten() {
                        match rule.get(name) {
                            Some(rule) => {
                                found.extend(faults(root, rule, part, &format!("{at}.{name}")));
                            }
                            None => found.push(format!("{at}.{name} is not described")),
                        }
                    }
                }
                "additionalProperties" | "items" => {
                    let list = value.as_array().into_iter().flatten();
                    let map = value.as_object().into_iter().flat_map(|map| map.values());
                    for part in list.chain(map) {
                        found.extend(faults(root, rule, part, &format!("{at}[]")));
                    }
                }
                "oneOf" => {
                    let ways = rule.as_array().unwrap().iter();
                    let fits = ways
                        .filter(|way| faults(root, way, value, at).is_empty())
                        .count();
                    if fits != 1 {
                        found.push(format!("{at} fits {fits} of {rule}"));
                    }
                }
                "description" | "format" | "example" | "propertyNames" => {}
                other => found.push(format!("{at}: no rule for {other}")),
            }
        }
        found
    }

    #[tokio::test(start_paused = true)]
    async fn describes_every_route_and_no_other() {
        let bench = Bench::new();
        let description = ask(&bench.router, "/api/v1/openapi.json", &[]).await.json();
        assert!(description["openapi"].as_str().unwrap().starts_with("3.1"));
        let described: BTreeSet<_> = description["paths"]
            .as_object()
            .unwrap()
            .keys()
            .cloned()
            .collect();
        let served: BTreeSet<_> = routes()
            .into_iter()
            .map(|(path, _)| path.to_owned())
            .collect();
        assert_eq!(described, served);
        let paths = description["paths"].as_object().unwrap().values();
        for way in paths.flat_map(|path| path.as_object().unwrap().values()) {
            assert!(
                way["responses"]
                    .as_object()
                    .is_some_and(|answers| !answers.is_empty())
            );
            assert!(way["summary"].as_str().is_some_and(|text| !text.is_empty()));
        }
    }

    #[tokio::test(start_paused = true)]
    async fn what_is_served_is_what_is_described() {
        let bench = Bench::new();
        let description = ask(&bench.router, "/api/v1/openapi.json", &[]).await.json();
        bench.state.send_replace(full_state());
        // Until the history has a row of it.
        while bench.history_rows() == 0 {
            tokio::time::advance(std::time::Duration::from_secs(1)).await;
        }
        for path in [
            "/api/v1/floor",
            "/api/v1/state",
            "/api/v1/history",
            "/api/v1/energy",
            "/api/v1/sensors",
            "/api/v1/session",
        ] {
            let schema = &description["paths"][path]["get"]["responses"]["200"]["content"]["application/json"]
                ["schema"];
            let served = ask(&bench.router, path, &[]).await.json();
            assert_eq!(
                faults(&description, schema, &served, path),
                Vec::<String>::new()
            );
        }
    }

    #[tokio::test(start_paused = true)]
    async fn the_check_above_finds_faults() {
        let bench = Bench::new();
        let description = ask(&bench.router, "/api/v1/openapi.json", &[]).await.json();
        let schema = json!({"$ref": "#/components/schemas/State"});
        let mut served = serde_json::to_value(&*full_state()).unwrap();
        for (pointer, wrong) in [
            ("/uptime_s", json!("soon")),
            ("/signal", json!("dead")),
            ("/frames_in", json!(-1)),
            ("/universes/0/age_s", json!("old")),
            ("/frames_refused", json!({"late": "many"})),
            ("/notices/0/severity", json!(3)),
            ("/circuits/0", json!({"name": "mains"})),
        ] {
            let right = served.pointer(pointer).unwrap().clone();
            *served.pointer_mut(pointer).unwrap() = wrong;
            assert!(
                !faults(&description, &schema, &served, "state").is_empty(),
                "{pointer}"
            );
            *served.pointer_mut(pointer).unwrap() = right;
        }
        served["extra"] = json!(1);
        assert_eq!(
            faults(&description, &schema, &served, "state"),
            ["state.extra is not described"]
        );
    }
}

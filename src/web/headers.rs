//! Headers that every answer carries.

use axum::Router;
use axum::http::HeaderValue;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HeaderName, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::response::Response;
use tower_http::set_header::SetResponseHeaderLayer;

/// Nothing from elsewhere is loaded, and no other page may frame this one.
const POLICY: &str = "default-src 'self'; script-src 'self'; style-src 'self'; \
     img-src 'self' data: blob:; connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; \
     form-action 'self'";

fn set(name: HeaderName, value: &'static str) -> SetResponseHeaderLayer<HeaderValue> {
    SetResponseHeaderLayer::overriding(name, HeaderValue::from_static(value))
}

/// Puts the security headers on everything that `router` answers.
pub(super) fn secure(router: Router) -> Router {
    router
        .layer(set(CONTENT_SECURITY_POLICY, POLICY))
        .layer(set(X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .layer(set(REFERRER_POLICY, "no-referrer"))
}

/// The same on one answer that no router gave.
pub(super) fn onto(mut answer: Response) -> Response {
    let headers = answer.headers_mut();
    for (name, value) in [
        (CONTENT_SECURITY_POLICY, POLICY),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (REFERRER_POLICY, "no-referrer"),
        (CACHE_CONTROL, "no-store"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    answer
}

/// What changes several times a second is not worth keeping.
pub(super) fn no_store() -> SetResponseHeaderLayer<HeaderValue> {
    set(CACHE_CONTROL, "no-store")
}

#[cfg(test)]
mod tests {
    use axum::routing::get;

    use super::super::testing::{Bench, ask};

    #[tokio::test(start_paused = true)]
    async fn everything_is_secured_and_nothing_of_the_api_is_kept() {
        let assets = axum::Router::new().route("/", get(|| async { "page" }));
        let bench = Bench::with_assets(assets);
        for path in [
            "/",
            "/api/v1/floor",
            "/api/v1/nothing",
            "/nothing",
            "/healthz",
        ] {
            let answer = ask(&bench.router, path, &[]).await;
            let header = |name: &str| {
                answer
                    .headers
                    .get(name)
                    .map(|value| value.to_str().unwrap())
            };
            assert_eq!(
                header("content-security-policy").unwrap(),
                "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data: \
                 blob:; connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action \
                 'self'",
                "{path}"
            );
            assert_eq!(header("x-content-type-options"), Some("nosniff"), "{path}");
            assert_eq!(header("referrer-policy"), Some("no-referrer"), "{path}");
            let kept = path == "/" || path == "/nothing";
            assert_eq!(
                header("cache-control"),
                (!kept).then_some("no-store"),
                "{path}"
            );
        }
    }
}

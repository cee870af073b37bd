//! The browser part: embedded files, or a page that says they were left out.

/// Routes of the dashboard's files: `/` and whatever its build names.
///
/// Names carry a hash of their contents and may be cached for ever; the page itself is asked for
/// again each time. Call it once: the files stay in memory as long as the process.
#[cfg(feature = "dashboard")]
pub fn router<S: Clone + Send + Sync + 'static>() -> axum::Router<S> {
    use memory_serve::{Asset, CacheControl, MemoryServe};

    static ASSETS: &[Asset] = include!(concat!(env!("OUT_DIR"), "/assets.rs"));
    MemoryServe::new(ASSETS)
        .index_file(Some("/index.html"))
        .html_cache_control(CacheControl::NoCache)
        .cache_control(CacheControl::Long)
        .enable_brotli(true)
        .enable_gzip(true)
        .into_router()
}

/// A page that says where the API is, since the dashboard was not built in.
#[cfg(not(feature = "dashboard"))]
pub fn router<S: Clone + Send + Sync + 'static>() -> axum::Router<S> {
    const TEXT: &str = "litfloor runs. This build has no dashboard (it was built with \
                        --no-default-features).\nThe API: /api/v1/floor, /api/v1/state, \
                        /api/v1/openapi.json, /healthz\n";
    axum::Router::new().route("/", axum::routing::get(|| async { TEXT }))
}

#[cfg(test)]
mod tests {
    use axum::body::{Body, Bytes, to_bytes};
    use axum::http::{HeaderMap, Request, StatusCode};
    use tower::ServiceExt;

    async fn get(path: &str, header: Option<(&str, &str)>) -> (StatusCode, HeaderMap, Bytes) {
        let mut request = Request::get(path);
        if let Some((name, value)) = header {
            request = request.header(name, value);
        }
        let request = request.body(Body::empty()).unwrap();
        let reply = super::router::<()>().oneshot(request).await.unwrap();
        let (head, body) = reply.into_parts();
        let body = to_bytes(body, usize::MAX).await.unwrap();
        (head.status, head.headers, body)
    }

    #[cfg(not(feature = "dashboard"))]
    #[tokio::test]
    async fn says_that_the_dashboard_is_not_there() {
        let (status, _, body) = get("/", None).await;
        assert_eq!(status, StatusCode::OK);
        assert!(
            std::str::from_utf8(&body)
                .unwrap()
                .contains("/api/v1/state")
        );
    }

    #[cfg(feature = "dashboard")]
    mod embedded {
        use super::*;

        /// The script that the page names.
        fn script(page: &Bytes) -> String {
            let page = std::str::from_utf8(page).unwrap();
            let start = page.find("src=\"").unwrap() + 5;
            let end = start + page[start..].find('"').unwrap();
            page[start..end].to_owned()
        }

        #[tokio::test]
        async fn the_page_is_asked_for_again_and_names_a_script_that_is_kept() {
            let (status, headers, page) = get("/", None).await;
            assert_eq!(status, StatusCode::OK);
            assert_eq!(headers["content-type"], "text/html");
            assert_eq!(headers["cache-control"], "no-cache");
            let (status, headers, body) = get(&script(&page), None).await;
            assert_eq!(status, StatusCode::OK);
            assert_eq!(headers["content-type"], "text/javascript");
            assert_eq!(headers["cache-control"], "max-age=31536000, immutable");
            assert!(!headers.contains_key("content-encoding"));
            assert!(std::str::from_utf8(&body).unwrap().contains("/api/v1/live"));
        }

        #[tokio::test]
        async fn files_are_compressed_for_who_can_read_that() {
            let (_, _, page) = get("/", None).await;
            let path = script(&page);
            let (_, _, plain) = get(&path, None).await;
            for encoding in ["br", "gzip"] {
                let (_, headers, body) = get(&path, Some(("accept-encoding", encoding))).await;
                assert_eq!(headers["content-encoding"], encoding);
                assert_eq!(headers["vary"], "accept-encoding");
                assert!(body.len() * 2 < plain.len());
            }
        }

        #[tokio::test]
        async fn what_a_browser_has_is_not_sent_again() {
            let (_, headers, _) = get("/", None).await;
            let etag = headers["etag"].to_str().unwrap();
            let (status, _, body) = get("/", Some(("if-none-match", etag))).await;
            assert_eq!(status, StatusCode::NOT_MODIFIED);
            assert!(body.is_empty());
        }

        #[tokio::test]
        async fn the_page_runs_nothing_of_its_own() {
            // A policy of `script-src 'self'; style-src 'self'` must not break it.
            let (_, _, page) = get("/", None).await;
            let page = std::str::from_utf8(&page).unwrap();
            assert!(!page.contains("<style") && !page.contains(" style="));
            assert_eq!(
                page.matches("<script").count(),
                page.matches(" src=").count()
            );
        }

        #[tokio::test]
        async fn other_paths_are_not_found() {
            assert_eq!(get("/else", None).await.0, StatusCode::NOT_FOUND);
        }
    }
}

//! Who may ask: this machine's own page, opened with the word of this start.
//!
//! A page of elsewhere can make a browser send requests here. It does not know the
//! word, its cookie is not sent along (`SameSite=Strict`), its `Origin` is another,
//! and a name that it points at this machine shows in `Host`.

use std::sync::Arc;

use axum::extract::{Request, State};
use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, COOKIE, HOST, HeaderName, HeaderValue,
    LOCATION, ORIGIN, REFERRER_POLICY, SET_COOKIE, X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use axum::http::{HeaderMap, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};
use subtle::ConstantTimeEq as _;

use super::Desk;
use super::fields::Fields;

/// What a page of the desk may load and do: its own script, style and pictures.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// What every answer says.
const HEADERS: [(HeaderName, &str); 6] = [
    (CACHE_CONTROL, "no-store"),
    (X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (X_FRAME_OPTIONS, "DENY"),
    // `no-referrer` would take the Origin away from our own forms.
    (REFERRER_POLICY, "same-origin"),
    (
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    ),
    (
        HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    ),
];

/// A plain answer.
pub(super) fn plain(status: StatusCode, text: &str) -> Response {
    let kind = [(CONTENT_TYPE, "text/plain; charset=utf-8")];
    (status, kind, format!("{text}\n")).into_response()
}

/// Lets a request through, or says why not.
pub(super) async fn guard(State(desk): State<Arc<Desk>>, request: Request, next: Next) -> Response {
    let mut response = match entrance(&desk, &request) {
        Some(answer) => answer,
        None => match tokio::time::timeout(desk.arrives, next.run(request)).await {
            Ok(answer) => answer,
            Err(_) => {
                let text = format!(
                    "the request did not arrive within {} s",
                    desk.arrives.as_secs()
                );
                plain(StatusCode::REQUEST_TIMEOUT, &text)
            }
        },
    };
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers
        .entry(CONTENT_SECURITY_POLICY)
        .or_insert(HeaderValue::from_static(POLICY));
    response
}

/// The answer to a request that goes no further.
fn entrance(desk: &Desk, request: &Request) -> Option<Response> {
    let headers = request.headers();
    let Some(host) = host(headers, desk.port) else {
        let text = "wrong Host: the desk answers to 127.0.0.1 and localhost with its own port";
        return Some(plain(StatusCode::FORBIDDEN, text));
    };
    let reads = [Method::GET, Method::HEAD].contains(request.method());
    if !origin_fits(headers, host, reads) {
        let text = "wrong Origin: the desk takes requests of its own page alone";
        return Some(plain(StatusCode::FORBIDDEN, text));
    }
    let path = request.uri().path();
    let query = request.uri().query().unwrap_or_default();
    let fields = Fields::parse(query.as_bytes()).unwrap_or_default();
    let refused = || {
        let text = "open the address that the desk printed when it was started";
        Some(plain(StatusCode::FORBIDDEN, text))
    };
    let name = format!("desk-{}", desk.port);
    if reads && path == "/" && fields.has("token") {
        if !same(fields.get("token"), &desk.token) {
            return refused();
        }
        // The word leaves the address line and stays in a cookie.
        let cookie = format!("{name}={}; Path=/; HttpOnly; SameSite=Strict", desk.token);
        let headers = [(SET_COOKIE, cookie.as_str()), (LOCATION, "/")];
        return Some((StatusCode::SEE_OTHER, headers).into_response());
    }
    let known = cookies(headers).any(|(n, value)| n == name && same(value, &desk.token));
    if known { None } else { refused() }
}

/// The one `Host` of a request, where it is ours.
fn host(headers: &HeaderMap, port: u16) -> Option<&str> {
    let mut all = headers.get_all(HOST).iter();
    let host = all.next()?.to_str().ok()?;
    let (name, number) = host.split_once(':').unwrap_or((host, "80"));
    let ours = ["127.0.0.1", "localhost"].contains(&name) && number == port.to_string();
    (ours && all.next().is_none()).then_some(host)
}

/// Whether `Origin` is that of our own page; only a request that changes nothing may
/// come without.
fn origin_fits(headers: &HeaderMap, host: &str, reads: bool) -> bool {
    let mut all = headers.get_all(ORIGIN).iter();
    match (all.next(), all.next()) {
        (None, _) => reads,
        (Some(origin), None) => origin.as_bytes() == format!("http://{host}").as_bytes(),
        _ => false,
    }
}

fn cookies(headers: &HeaderMap) -> impl Iterator<Item = (&str, &str)> {
    let all = headers.get_all(COOKIE).iter();
    let texts = all.filter_map(|value| value.to_str().ok());
    texts
        .flat_map(|text| text.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
}

/// Whether two tokens are the same, in a time that does not depend on where they differ.
fn same(given: &str, token: &str) -> bool {
    given.as_bytes().ct_eq(token.as_bytes()).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_the_same_or_not() {
        assert!(same("abc", "abc"));
        for other in ["", "ab", "abcd", "abd", "bbc"] {
            assert!(!same(other, "abc"), "{other}");
        }
    }

    #[test]
    fn only_our_own_host_is_ours() {
        let with = |hosts: &[&'static str]| {
            let mut headers = HeaderMap::new();
            for host in hosts {
                headers.append(HOST, HeaderValue::from_static(host));
            }
            host(&headers, 8123).map(str::to_owned)
        };
        assert!(with(&["127.0.0.1:8123"]).is_some() && with(&["localhost:8123"]).is_some());
        for bad in [
            &[][..],
            &["127.0.0.1"],
            &["127.0.0.1:80"],
            &["127.0.0.1:81230"],
            &["127.0.0.2:8123"],
            &["desk.example.org:8123"],
            &["127.0.0.1.example.org:8123"],
            &["localhost:8123", "localhost:8123"],
        ] {
            assert_eq!(with(bad), None, "{bad:?}");
        }
    }

    #[test]
    fn only_our_own_origin_may_change_anything() {
        let fits = |origin: Option<&'static str>, reads| {
            let mut headers = HeaderMap::new();
            if let Some(origin) = origin {
                headers.append(ORIGIN, HeaderValue::from_static(origin));
            }
            origin_fits(&headers, "127.0.0.1:8123", reads)
        };
        assert!(fits(Some("http://127.0.0.1:8123"), false));
        assert!(fits(None, true) && !fits(None, false));
        for bad in [
            "null",
            "http://127.0.0.1",
            "https://127.0.0.1:8123",
            "http://localhost:8123",
            "http://example.org",
        ] {
            assert!(!fits(Some(bad), true) && !fits(Some(bad), false), "{bad}");
        }
    }
}

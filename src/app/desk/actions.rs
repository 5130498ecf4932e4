//! What can be asked of the desk.

use std::sync::Arc;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{DefaultBodyLimit, Multipart, Path, Request, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, LOCATION};
use axum::http::{HeaderMap, StatusCode, Uri};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse as _, Response};
use axum::routing::{get, post};

use super::fields::Fields;
use super::guard::{guard, plain};
use super::profile::MAX_PROFILE;
use super::session::{Answered, Session};
use super::{Desk, events, page};
use crate::issue::folder;
use crate::issue::outputs::Output;
use crate::issue::outputs::SHEET;

/// The longest form that is taken, bytes.
const MAX_FORM: usize = 256 << 10;

/// The longest upload: the profile and what stands around it.
const MAX_UPLOAD: usize = MAX_PROFILE + (64 << 10);

const SCRIPT: &str = include_str!("page.js");
const STYLE: &str = include_str!("page.css");

type Shared = State<Arc<Desk>>;

/// Every request there is, behind the guard.
pub(super) fn router(desk: Arc<Desk>) -> Router {
    let upload = post(upload).layer(DefaultBodyLimit::max(MAX_UPLOAD));
    Router::new()
        .route("/", get(whole))
        .route("/page.js", get(script))
        .route("/page.css", get(style))
        .route("/sheet.toml", get(sheet))
        .route("/issued/{number}/{file}", get(issued))
        .route("/parts", get(parts))
        .route("/events", get(events))
        .route("/profile", upload)
        .route("/do/{action}", post(act))
        .fallback(nothing)
        .with_state(desk.clone())
        .layer(from_fn_with_state(desk, guard))
}

async fn nothing() -> Response {
    plain(StatusCode::NOT_FOUND, "there is no such page")
}

fn typed(kind: &'static str, text: impl Into<Body>) -> Response {
    ([(CONTENT_TYPE, kind)], text.into()).into_response()
}

async fn script() -> Response {
    typed("text/javascript; charset=utf-8", SCRIPT)
}

async fn style() -> Response {
    let all = format!("{STYLE}{}", page::picture_style());
    typed("text/css; charset=utf-8", all)
}

/// The whole page.
async fn whole(State(desk): Shared) -> Response {
    let mut session = desk.session();
    let view = session.refresh(true);
    desk.announce(&session);
    let page = page::page(&view, &session);
    typed("text/html; charset=utf-8", page.into_string())
}

/// What a page has not seen, for the page that was notified of a change.
async fn parts(State(desk): Shared, uri: Uri) -> Response {
    let fields = Fields::parse(uri.query().unwrap_or_default().as_bytes()).unwrap_or_default();
    let mut session = desk.session();
    session.meet(fields.get("boot"));
    session.refresh(true);
    desk.announce(&session);
    news(&session, &fields, false)
}

/// What has changed since a page looked, as JSON.
fn news(session: &Session, fields: &Fields, more: bool) -> Response {
    // A page of another run has seen nothing of this one.
    let is_ours = fields.get("boot") == session.boot;
    let seen = fields.get("seen").parse().ok().filter(|_| is_ours);
    let news = session.parts.news(&session.boot, seen.unwrap_or(0), more);
    match serde_json::to_string(&news) {
        Ok(text) => typed("application/json", text),
        Err(error) => plain(StatusCode::INTERNAL_SERVER_ERROR, &error.to_string()),
    }
}

/// Tells a page of every change.
async fn events(State(desk): Shared) -> Response {
    events::stream(desk.changes.subscribe())
}

/// The sheet as it stands, to keep.
async fn sheet(State(desk): Shared) -> Response {
    let text = desk.session().sheet_text();
    let headers = [
        (CONTENT_TYPE, "application/toml; charset=utf-8".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("attachment; filename=\"{SHEET}\""),
        ),
    ];
    (headers, text).into_response()
}

/// A file of an issue, by the number of the issue in the list shown.
async fn issued(State(desk): Shared, Path((number, file)): Path<(String, String)>) -> Response {
    let session = desk.session();
    let Some(name) = session.issue_of(&number) else {
        return plain(StatusCode::NOT_FOUND, "there is no such issue in the list");
    };
    let output = Output::issued().find(|output| output.file() == Some(&file));
    let kind = output.map(Output::media_type);
    let sheet = (file == SHEET).then_some("application/toml; charset=utf-8");
    let Some(kind) = kind.or(sheet) else {
        return plain(StatusCode::NOT_FOUND, "an issue has no such file");
    };
    match folder::file(&session.setup.out, name, &file) {
        Ok(Some(bytes)) => {
            let save = format!("attachment; filename=\"{name}_{file}\"");
            let headers = [(CONTENT_TYPE, kind.to_owned()), (CONTENT_DISPOSITION, save)];
            (headers, bytes).into_response()
        }
        Ok(None) => plain(StatusCode::NOT_FOUND, "the issue has no such file"),
        Err(error) => plain(StatusCode::INTERNAL_SERVER_ERROR, &error.to_string()),
    }
}

/// After a change the page is asked for anew, so that reloading it changes nothing.
fn back() -> Response {
    (StatusCode::SEE_OTHER, [(LOCATION, "/")]).into_response()
}

/// Takes a profile.
async fn upload(
    State(desk): Shared,
    headers: HeaderMap,
    parts: Result<Multipart, axum::extract::multipart::MultipartRejection>,
) -> Response {
    let live = live(&headers);
    let mut parts = match parts {
        Ok(parts) => parts,
        Err(refused) => return plain(refused.status(), &refused.body_text()),
    };
    loop {
        let field = match parts.next_field().await {
            Ok(Some(field)) => field,
            Ok(None) => break,
            Err(error) => return plain(error.status(), &error.body_text()),
        };
        if field.name() != Some("profile") {
            continue;
        }
        let name = field.file_name().unwrap_or_default().to_owned();
        let bytes = match field.bytes().await {
            Ok(bytes) => bytes,
            Err(error) => return plain(error.status(), &error.body_text()),
        };
        let mut session = desk.session();
        session.answered = Answered::Profile;
        if bytes.len() > MAX_PROFILE {
            let text = format!("the profile has more than {MAX_PROFILE} bytes");
            return plain(StatusCode::PAYLOAD_TOO_LARGE, &text);
        }
        if bytes.is_empty() {
            session.refused("no profile: choose a file first");
        } else {
            session.load(&name, bytes.to_vec());
        }
        session.refresh(false);
        desk.announce(&session);
        return match live {
            Some(seen) => news(&session, &seen, true),
            None => back(),
        };
    }
    plain(StatusCode::BAD_REQUEST, "the form has no field `profile`")
}

/// Takes what stands in the fields, then does what a button says.
async fn act(State(desk): Shared, Path(action): Path<String>, request: Request) -> Response {
    let live = live(request.headers());
    let body = to_bytes(request.into_body(), MAX_FORM).await;
    let Ok(body) = body else {
        let text = format!("the form has more than {MAX_FORM} bytes");
        return plain(StatusCode::PAYLOAD_TOO_LARGE, &text);
    };
    let fields = match Fields::parse(&body) {
        Ok(fields) => fields,
        Err(why) => return plain(StatusCode::BAD_REQUEST, &why),
    };
    let mut session = desk.session();
    if let Some(seen) = &live {
        session.meet(seen.get("boot"));
    }
    session.answered = answered(&action);
    let taken = session.apply(&fields);
    match action.as_str() {
        // What the operator sees of the conflict comes first.
        _ if !taken => {}
        "show" => {}
        "file" => session.load_file(fields.get("number")),
        "grow" => session.load_again(),
        "level" | "withhold" => session.order(&action, &fields),
        "back" => session.take_back(&fields),
        "pick" => session.pick = fields.get("pick").to_owned(),
        "undo" => session.undo(),
        "anew" => session.anew(),
        "resume" => session.resume(),
        "discard" => session.discard(),
        "read" => session.notice = None,
        "issue" => session.issue(&fields),
        "nil" => session.nil(&fields),
        "reopen" => session.reopen(fields.get("number")),
        "mark" => session.mark(fields.get("mark")),
        _ => return plain(StatusCode::NOT_FOUND, "there is no such action"),
    }
    session.refresh(false);
    desk.announce(&session);
    match live {
        Some(seen) => news(&session, &seen, true),
        None => back(),
    }
}

/// Where the answer to an action stands.
fn answered(action: &str) -> Answered {
    match action {
        "file" | "grow" | "anew" => Answered::Profile,
        "level" | "withhold" | "back" => Answered::Orders,
        "issue" => Answered::Issue,
        "nil" => Answered::Nil,
        "reopen" | "mark" => Answered::Issued,
        _ => Answered::Head,
    }
}

/// What our own script has seen, which takes the parts of the page from the answer.
fn live(headers: &HeaderMap) -> Option<Fields> {
    let seen = headers.get("x-live")?.as_bytes();
    Some(Fields::parse(seen).unwrap_or_default())
}

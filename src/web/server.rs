//! The server of the page: one thread, on 127.0.0.1 only. Reading and writing the catalogue and the dumps is done beside it.

use std::convert::Infallible;
use std::net::Ipv4Addr;
use std::net::TcpListener;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::sync::atomic::Ordering;
use std::time::Duration;
use std::time::Instant;

use axum::Router;
use axum::body::Body;
use axum::body::Bytes;
use axum::extract::DefaultBodyLimit;
use axum::extract::Path;
use axum::extract::Request;
use axum::extract::State;
use axum::http::Response;
use axum::http::StatusCode;
use axum::middleware;
use axum::middleware::Next;
use axum::response::IntoResponse;
use axum::response::Sse;
use axum::response::sse::Event;
use axum::response::sse::KeepAlive;
use axum::routing::get;
use axum::routing::post;
use futures_util::stream;
use tokio::sync::broadcast;
use tokio::sync::broadcast::error::RecvError;

use crate::catalogue::handle::Catalogue;
use crate::terms::failure::Failure;
use crate::terms::failure::FailureKind;
use crate::usecase::looking::over_picture::over_picture;
use crate::usecase::looking::over_picture::turned_grid;
use crate::usecase::looking::scene::Scene;
use crate::usecase::looking::scene::maps_of_night;
use crate::usecase::looking::scene::preview;
use crate::web::actions::act;
use crate::web::guard::Guard;
use crate::web::guard::answer;
use crate::web::guard::with_headers;
use crate::web::json;
use crate::web::session::LookSession;

/// How long to wait at least before the catalogue is asked again whether something was stated or found by another program.
const LOOK_EVERY: Duration = Duration::from_millis(250);

/// The same, as a multiple of the time that the answer took: with many frames this takes no more than a fifth of a processor.
const LOOK_REST: u32 = 4;

/// The longest act of a page: every frame of a night by its number.
const LONGEST_ACT: usize = 256 * 1024;

/// Threads for the catalogue and the dumps.
const BLOCKING_THREADS: usize = 4;

const JSON: &str = "application/json";

/// The types of the page's files.
const SVG: &str = "image/svg+xml";
const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// Where the scene is put into the page.
const SCENE: &str = "<!-- scene -->";

/// The files of the page: name, type, contents.
const PAGE: &[(&str, &str, &str)] = &[
    ("icon.svg", SVG, include_str!("page/icon.svg")),
    ("report.css", CSS, include_str!("../report/sheet.css")),
    ("look.css", CSS, include_str!("page/look.css")),
    ("main.js", JS, include_str!("page/main.js")),
    ("state.js", JS, include_str!("page/state.js")),
    ("stage.js", JS, include_str!("page/stage.js")),
    ("axis.js", JS, include_str!("page/axis.js")),
    ("over.js", JS, include_str!("page/over.js")),
    ("triangle.js", JS, include_str!("page/triangle.js")),
    ("candidates.js", JS, include_str!("page/candidates.js")),
    ("panel.js", JS, include_str!("page/panel.js")),
    ("keys.js", JS, include_str!("page/keys.js")),
];

/// Why the server ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// It was asked to.
    Stopped,
    /// No page was open for the stated time.
    Idle,
}

/// Serves a scene until `stop` is set, or no page has been open for `idle`.
///
/// Takes: a catalogue opened for changes; `started` is given the address.
pub fn serve(
    catalogue: Catalogue,
    scene: Scene,
    idle: Duration,
    stop: &AtomicBool,
    started: impl FnOnce(&str) -> Result<(), Failure>,
) -> Result<Ended, Failure> {
    let refused = |e: std::io::Error| {
        Failure::new(
            FailureKind::Output,
            "the page could not be served on 127.0.0.1",
        )
        .because(e)
    };
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).map_err(refused)?;
    listener.set_nonblocking(true).map_err(refused)?;
    let port = listener.local_addr().map_err(refused)?.port();
    let guard = Guard::new(&catalogue.random_bytes()?, port);
    let address = guard.address();
    let session = Arc::new(LookSession::new(catalogue, scene, guard)?);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(BLOCKING_THREADS)
        .build()
        .map_err(refused)?;
    let ended = runtime.block_on(async {
        let listener = tokio::net::TcpListener::from_std(listener).map_err(refused)?;
        started(&address)?;
        let serving = axum::serve(listener, router(Arc::clone(&session)));
        tokio::select! {
            served = async { serving.await } => served.map(|()| Ended::Stopped).map_err(refused),
            ended = watch(&session, idle, stop) => Ok(ended),
        }
    });
    runtime.shutdown_background();
    ended
}

/// Tells pages what other programs state and find; ends when the server should.
async fn watch(session: &Arc<LookSession>, idle: Duration, stop: &AtomicBool) -> Ended {
    let mut wait = LOOK_EVERY;
    loop {
        tokio::time::sleep(wait).await;
        if stop.load(Ordering::Relaxed) {
            return Ended::Stopped;
        }
        if session.idle() > idle {
            return Ended::Idle;
        }
        // A catalogue that is busy now is asked again.
        let session = Arc::clone(session);
        let began = Instant::now();
        let _ = tokio::task::spawn_blocking(move || session.tell_changes()).await;
        wait = LOOK_EVERY.max(LOOK_REST * began.elapsed());
    }
}

fn router(session: Arc<LookSession>) -> Router {
    Router::new()
        .route("/{token}/", get(index))
        .route("/{token}/page/{file}", get(page_file))
        .route("/{token}/night/{date}", get(night))
        .route("/{token}/picture/{frame}", get(picture))
        .route("/{token}/over/{frame}", get(over))
        .route("/{token}/turned/{shown}/{other}", get(turned))
        .route("/{token}/events/{version}", get(events))
        .route("/{token}/state", post(state))
        .fallback(async || answer(StatusCode::NOT_FOUND, "text/plain", Body::empty()))
        .layer(DefaultBodyLimit::max(LONGEST_ACT))
        .layer(middleware::from_fn_with_state(
            Arc::clone(&session),
            guarded,
        ))
        .with_state(session)
}

async fn guarded(
    State(session): State<Arc<LookSession>>,
    request: Request,
    next: Next,
) -> Response<Body> {
    let is_admitted =
        session
            .guard
            .admits(request.method(), request.uri().path(), request.headers());
    if !is_admitted {
        return with_headers(answer(StatusCode::NOT_FOUND, "text/plain", Body::empty()));
    }
    with_headers(next.run(request).await)
}

async fn index(State(session): State<Arc<LookSession>>) -> Response<Body> {
    beside(move || {
        let page = include_str!("page/index.html").replace(SCENE, &session.opening());
        answer(StatusCode::OK, "text/html; charset=utf-8", page)
    })
    .await
}

async fn page_file(Path((_, file)): Path<(String, String)>) -> Response<Body> {
    let found = PAGE.iter().find(|(name, _, _)| *name == file);
    found.map_or_else(
        || answer(StatusCode::NOT_FOUND, "text/plain", Body::empty()),
        |(_, kind, text)| answer(StatusCode::OK, kind, *text),
    )
}

async fn night(
    State(session): State<Arc<LookSession>>,
    Path((_, date)): Path<(String, String)>,
) -> Response<Body> {
    beside(move || {
        if !session.scene.nights().contains(&date) {
            return answer(
                StatusCode::NOT_FOUND,
                JSON,
                json::refusal("not a night of this page"),
            );
        }
        read(maps_of_night(&session.catalogue(), &date), |maps| {
            json::maps(&maps)
        })
    })
    .await
}

async fn picture(
    State(session): State<Arc<LookSession>>,
    Path((_, frame)): Path<(String, String)>,
) -> Response<Body> {
    beside(move || {
        let Some(frame) = session.frame_named(&frame) else {
            return not_of_page();
        };
        match preview(frame) {
            Ok(jpeg) => answer(StatusCode::OK, "image/jpeg", jpeg),
            Err(why) => answer(StatusCode::NOT_FOUND, JSON, json::refusal(&why)),
        }
    })
    .await
}

async fn over(
    State(session): State<Arc<LookSession>>,
    Path((_, frame)): Path<(String, String)>,
) -> Response<Body> {
    beside(move || match session.frame_named(&frame) {
        Some(frame) => read(over_picture(&session.catalogue(), frame.frame_id), |over| {
            json::over(&over)
        }),
        None => not_of_page(),
    })
    .await
}

async fn turned(
    State(session): State<Arc<LookSession>>,
    Path((_, shown, other)): Path<(String, String, String)>,
) -> Response<Body> {
    beside(move || {
        let frames = session.frame_named(&shown).zip(session.frame_named(&other));
        let Some((shown, other)) = frames else {
            return not_of_page();
        };
        let nodes = turned_grid(&session.catalogue(), shown.frame_id, other.frame_id);
        read(nodes, |nodes| json::grid(nodes.as_deref()))
    })
    .await
}

fn not_of_page() -> Response<Body> {
    let words = json::refusal("not a frame of this page");
    answer(StatusCode::NOT_FOUND, JSON, words)
}

/// What was read of the catalogue, or why it could not be.
fn read<T>(from: Result<T, Failure>, to_json: impl FnOnce(T) -> String) -> Response<Body> {
    match from {
        Ok(value) => answer(StatusCode::OK, JSON, to_json(value)),
        Err(failure) => answer(
            StatusCode::INTERNAL_SERVER_ERROR,
            JSON,
            json::problem(&failure),
        ),
    }
}

async fn state(State(session): State<Arc<LookSession>>, body: Bytes) -> Response<Body> {
    beside(move || match act(&session, &body) {
        Ok(words) => answer(StatusCode::OK, JSON, json::done(&words)),
        Err(failure) => answer(StatusCode::CONFLICT, JSON, json::problem(&failure)),
    })
    .await
}

/// Runs blocking work beside the server.
async fn beside(work: impl FnOnce() -> Response<Body> + Send + 'static) -> Response<Body> {
    tokio::task::spawn_blocking(work).await.unwrap_or_else(|_| {
        answer(
            StatusCode::INTERNAL_SERVER_ERROR,
            JSON,
            json::refusal("a fault in framefall"),
        )
    })
}

/// A page that is open: counted until its connection ends.
struct OpenPage(Arc<LookSession>);

impl Drop for OpenPage {
    fn drop(&mut self) {
        self.0.page_closed();
    }
}

/// Changes since a version of the scene, as events `stated`; the whole scene, as the event `scene`, where some were missed.
async fn events(
    State(session): State<Arc<LookSession>>,
    Path((_, version)): Path<(String, String)>,
) -> Response<Body> {
    session.page_opened();
    let page = OpenPage(session);
    let told = stream::unfold((page, Since::Version(version)), async |(page, from)| {
        let (event, changes) = next_event(&page.0, from).await?;
        Some((Ok::<Event, Infallible>(event), (page, Since::Now(changes))))
    });
    Sse::new(told)
        .keep_alive(KeepAlive::default())
        .into_response()
}

/// From where on a page is told changes.
enum Since {
    Version(String),
    Now(broadcast::Receiver<String>),
}

/// What a page is told next.
async fn next_event(
    session: &Arc<LookSession>,
    mut from: Since,
) -> Option<(Event, broadcast::Receiver<String>)> {
    loop {
        let version = match from {
            Since::Version(version) => Some(version),
            Since::Now(mut changes) => match changes.recv().await {
                Ok(text) => return Some((Event::default().event("stated").data(text), changes)),
                Err(RecvError::Lagged(_)) => None,
                Err(RecvError::Closed) => return None,
            },
        };
        let session = Arc::clone(session);
        let since = move || session.changes_since(version.as_deref());
        let (scene, changes) = tokio::task::spawn_blocking(since).await.ok()?;
        if let Some(scene) = scene {
            return Some((Event::default().event("scene").data(scene), changes));
        }
        from = Since::Now(changes);
    }
}

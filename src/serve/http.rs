//! A small server for one machine's own browser.
//!
//! What it guarantees:
//! - it listens on 127.0.0.1 or ::1 only ([`listen`] takes nothing else);
//! - a request is answered only if its `Host` is a loopback name with our port,
//!   which no page elsewhere can make a browser send (names that are made to
//!   resolve to loopback fail here), and if its `Origin`, where it has one, is our
//!   own, and the browser does not call it cross-site;
//! - a request's head is at most 16 KiB and must arrive in 10 s, its body at most
//!   [`BODY_LIMIT`] bytes in 10 s; at most 64 connections are open;
//! - every answer forbids embedding, sniffing and use by other origins, and
//!   carries a content security policy.
//!
//! What it doesn't do: TLS, compression, ranges, or anything for another machine.
//!
//! How it fails: with a status and one line of text; a handler that panics
//! answers 500 and spoils no other request.

use anyhow::Context as _;
use http_body_util::{BodyExt as _, Limited};
use hyper::body::{Body, Bytes, Frame, Incoming};
use hyper::header::{HeaderMap, HeaderValue};
use hyper::service::service_fn;
use hyper::{Method, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use std::convert::Infallible;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender};

/// The most bytes of a request's body.
pub const BODY_LIMIT: usize = 64 << 10;
const HEAD_LIMIT: usize = 16 << 10;
const PATIENCE: Duration = Duration::from_secs(10);
const CONNECTIONS: usize = 64;

/// The policy of pages that run their own files only.
pub const STRICT: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
     img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'self'; \
     frame-ancestors 'none'";

/// A request, as a handler sees it.
#[derive(Clone, Debug)]
pub struct Request {
    /// Whether it may change something.
    pub writes: bool,
    /// The path, from `/`, percent escapes resolved.
    pub path: String,
    /// What stands behind `?`, as it came.
    pub query: String,
    /// Its body.
    pub body: Vec<u8>,
}

/// An answer.
#[derive(Debug)]
pub enum Reply {
    /// A status, a media type and bytes.
    Whole {
        /// Such as 200.
        status: u16,
        /// Such as `text/html; charset=utf-8`.
        kind: &'static str,
        /// The bytes.
        bytes: Vec<u8>,
    },
    /// Another place on this server.
    Elsewhere(String),
    /// Events as they happen (`text/event-stream`).
    Events(UnboundedReceiver<String>),
}

impl Reply {
    /// A page.
    pub fn html(bytes: impl Into<Vec<u8>>) -> Reply {
        Reply::Whole {
            status: 200,
            kind: "text/html; charset=utf-8",
            bytes: bytes.into(),
        }
    }

    /// A value as JSON.
    pub fn json(status: u16, value: &impl serde::Serialize) -> Reply {
        match serde_json::to_vec(value) {
            Ok(bytes) => Reply::Whole {
                status,
                kind: "application/json",
                bytes,
            },
            Err(error) => Reply::text(500, error.to_string()),
        }
    }

    /// A line of text.
    pub fn text(status: u16, text: impl Into<String>) -> Reply {
        Reply::Whole {
            status,
            kind: "text/plain; charset=utf-8",
            bytes: text.into().into_bytes(),
        }
    }
}

/// What answers.
pub trait Handler: Send + Sync + 'static {
    /// Answers one request; called on a thread of its own, where it may block.
    fn answer(&self, request: &Request) -> Reply;
}

/// A channel for events: what is sent comes out of [`Reply::Events`].
pub fn events() -> (UnboundedSender<String>, UnboundedReceiver<String>) {
    tokio::sync::mpsc::unbounded_channel()
}

/// A socket on loopback, not yet answering.
#[derive(Debug)]
pub struct Listening {
    listener: std::net::TcpListener,
    /// Where it listens.
    pub address: SocketAddr,
    patience: Duration,
}

/// Listens on loopback: at `port`, or any free one for 0.
///
/// # Errors
/// If the port is taken.
pub fn listen(port: u16, six: bool) -> anyhow::Result<Listening> {
    let ip: IpAddr = if six {
        Ipv6Addr::LOCALHOST.into()
    } else {
        Ipv4Addr::LOCALHOST.into()
    };
    let listener = std::net::TcpListener::bind(SocketAddr::new(ip, port)).with_context(|| {
        format!("can't listen on port {port}; name another with --port, or 0 for any free one")
    })?;
    listener.set_nonblocking(true)?;
    let address = listener.local_addr()?;
    Ok(Listening {
        listener,
        address,
        patience: PATIENCE,
    })
}

impl Listening {
    /// Answers until the program ends.
    ///
    /// # Errors
    /// If the system refuses.
    pub fn serve(self, handler: Arc<dyn Handler>) -> anyhow::Result<()> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .max_blocking_threads(8)
            .build()?;
        runtime.block_on(async move {
            let listener = tokio::net::TcpListener::from_std(self.listener)?;
            let room = Arc::new(tokio::sync::Semaphore::new(CONNECTIONS));
            let (port, patience) = (self.address.port(), self.patience);
            loop {
                let permit = room.clone().acquire_owned().await?;
                let Ok((stream, _)) = listener.accept().await else {
                    // Out of file handles, most likely: let others end first.
                    tokio::time::sleep(Duration::from_millis(50)).await;
                    continue;
                };
                let handler = handler.clone();
                tokio::spawn(async move {
                    let _permit = permit;
                    let service = service_fn(move |request| {
                        let handler = handler.clone();
                        async move { Ok::<_, Infallible>(one(request, port, patience, handler).await) }
                    });
                    // An error here is a client that went away or spoke badly.
                    let _ = hyper::server::conn::http1::Builder::new()
                        .timer(TokioTimer::new())
                        .header_read_timeout(patience)
                        .max_buf_size(HEAD_LIMIT)
                        .serve_connection(TokioIo::new(stream), service)
                        .await;
                });
            }
        })
    }
}

async fn one(
    request: hyper::Request<Incoming>,
    port: u16,
    patience: Duration,
    handler: Arc<dyn Handler>,
) -> hyper::Response<Answering> {
    let reply = match admit(request.method(), request.headers(), port) {
        Err(refused) => refused,
        Ok(()) => match read(request, patience).await {
            Err(refused) => refused,
            Ok(request) => tokio::task::spawn_blocking(move || handler.answer(&request))
                .await
                .unwrap_or_else(|_| Reply::text(500, "something went wrong here; try again")),
        },
    };
    respond(reply)
}

/// Whether a request comes from this machine's browser and our own pages.
fn admit(method: &Method, headers: &HeaderMap, port: u16) -> Result<(), Reply> {
    if !matches!(*method, Method::GET | Method::HEAD | Method::POST) {
        return Err(Reply::text(405, "only GET and POST are answered"));
    }
    let one = |name: &str| -> Result<Option<&str>, Reply> {
        let mut values = headers.get_all(name).iter();
        match (values.next(), values.next()) {
            (None, _) => Ok(None),
            (Some(value), None) => value
                .to_str()
                .map(Some)
                .map_err(|_| Reply::text(400, "a header can't be read")),
            (Some(_), Some(_)) => Err(Reply::text(400, "a header is there twice")),
        }
    };
    let ours = |host: &str| is_ours(host, port);
    match one("host")? {
        Some(host) if ours(host) => {}
        _ => return Err(Reply::text(403, "this server answers on loopback only")),
    }
    let origin = one("origin")?;
    let own_origin = origin.is_none_or(|origin| origin.strip_prefix("http://").is_some_and(ours));
    // `none` is an address typed in or a bookmark.
    let site = one("sec-fetch-site")?;
    let own_site = site.is_none_or(|site| matches!(site, "same-origin" | "none"));
    if !own_origin || !own_site {
        return Err(Reply::text(403, "this server answers its own pages only"));
    }
    Ok(())
}

/// Whether a host is a loopback name with our port; browsers leave HTTP's own port out.
fn is_ours(host: &str, port: u16) -> bool {
    ["127.0.0.1", "localhost", "[::1]"].iter().any(|name| {
        host.eq_ignore_ascii_case(&format!("{name}:{port}"))
            || port == 80 && host.eq_ignore_ascii_case(name)
    })
}

async fn read(request: hyper::Request<Incoming>, patience: Duration) -> Result<Request, Reply> {
    let (head, body) = request.into_parts();
    let path =
        unescape(head.uri.path()).ok_or_else(|| Reply::text(400, "the address can't be read"))?;
    let query = head.uri.query().unwrap_or_default().to_owned();
    let collected = tokio::time::timeout(patience, Limited::new(body, BODY_LIMIT).collect()).await;
    let body = match collected {
        Err(_) => return Err(Reply::text(408, "the request took too long")),
        Ok(Err(_)) => return Err(Reply::text(413, "the request is too large")),
        Ok(Ok(body)) => body.to_bytes().to_vec(),
    };
    Ok(Request {
        writes: head.method == Method::POST,
        path,
        query,
        body,
    })
}

/// Resolves percent escapes; none if what comes out is no text.
fn unescape(path: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(path.len());
    let mut rest = path.bytes();
    while let Some(byte) = rest.next() {
        if byte == b'%' {
            let digit = |byte: Option<u8>| char::from(byte?).to_digit(16);
            let (high, low) = (digit(rest.next())?, digit(rest.next())?);
            bytes.push(u8::try_from(high * 16 + low).ok()?);
        } else {
            bytes.push(byte);
        }
    }
    String::from_utf8(bytes).ok()
}

fn respond(reply: Reply) -> hyper::Response<Answering> {
    let (status, kind, body, place) = match reply {
        Reply::Whole {
            status,
            kind,
            bytes,
        } => (status, kind, Answering::whole(bytes), None),
        Reply::Elsewhere(place) => (
            302,
            "text/plain; charset=utf-8",
            Answering::whole(Vec::new()),
            HeaderValue::from_str(&place).ok(),
        ),
        Reply::Events(events) => (200, "text/event-stream", Answering::Events(events), None),
    };
    let mut response = hyper::Response::new(body);
    *response.status_mut() =
        StatusCode::from_u16(status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let headers = response.headers_mut();
    for (name, value) in [
        ("content-type", kind),
        ("content-security-policy", STRICT),
        ("cache-control", "no-store"),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
        ("x-frame-options", "DENY"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if let Some(place) = place {
        headers.insert("location", place);
    }
    response
}

/// An answer's body.
enum Answering {
    Whole(Option<Bytes>),
    Events(UnboundedReceiver<String>),
}

impl Answering {
    fn whole(bytes: Vec<u8>) -> Answering {
        Answering::Whole((!bytes.is_empty()).then(|| bytes.into()))
    }
}

impl Body for Answering {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        match self.get_mut() {
            Answering::Whole(bytes) => Poll::Ready(bytes.take().map(|b| Ok(Frame::data(b)))),
            Answering::Events(events) => events.poll_recv(context).map(|event| {
                let event = event?;
                // A line break would end the field.
                let event = event.replace(['\r', '\n'], " ");
                Some(Ok(Frame::data(format!("data: {event}\n\n").into())))
            }),
        }
    }

    fn size_hint(&self) -> hyper::body::SizeHint {
        match self {
            Answering::Whole(bytes) => {
                let length = bytes.as_ref().map_or(0, Bytes::len);
                hyper::body::SizeHint::with_exact(length as u64)
            }
            Answering::Events(_) => hyper::body::SizeHint::default(),
        }
    }
}

#[cfg(test)]
mod tests;

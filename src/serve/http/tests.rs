use super::*;
use std::io::{Read as _, Write as _};

struct Echo;

impl Handler for Echo {
    fn answer(&self, request: &Request) -> Reply {
        assert_ne!(request.path, "/panic", "this panic is wanted");
        Reply::text(200, format!("{} {}", request.path, request.body.len()))
    }
}

fn server() -> SocketAddr {
    server_with(PATIENCE)
}

fn server_with(patience: Duration) -> SocketAddr {
    let mut listening = listen(0, false).unwrap();
    listening.patience = patience;
    let address = listening.address;
    std::thread::spawn(move || listening.serve(Arc::new(Echo)));
    address
}

fn ask(address: SocketAddr, head: &str, body: &[u8]) -> String {
    let mut stream = std::net::TcpStream::connect(address).unwrap();
    let head = head.replace("PORT", &address.port().to_string());
    let head = format!(
        "{head}connection: close\r\ncontent-length: {}\r\n\r\n",
        body.len()
    );
    // A server that refuses early may close before all is sent.
    let _ = stream.write_all(head.as_bytes());
    let _ = stream.write_all(body);
    let mut text = String::new();
    let _ = stream.read_to_string(&mut text);
    text
}

fn status(address: SocketAddr, head: &str) -> u16 {
    let text = ask(address, head, b"");
    text.split(' ')
        .nth(1)
        .and_then(|status| status.parse().ok())
        .unwrap_or(0)
}

#[test]
fn only_loopback_names_and_own_origins_are_answered() {
    let address = server();
    for (head, expected) in [
        ("GET / HTTP/1.1\r\nhost: 127.0.0.1:PORT\r\n", 200),
        ("GET / HTTP/1.1\r\nhost: LOCALHOST:PORT\r\n", 200),
        ("GET / HTTP/1.1\r\nhost: [::1]:PORT\r\n", 200),
        ("GET / HTTP/1.1\r\nhost: 127.0.0.1\r\n", 403),
        ("GET / HTTP/1.1\r\nhost: 127.0.0.1:1\r\n", 403),
        ("GET / HTTP/1.1\r\nhost: lab.example:PORT\r\n", 403),
        (
            "GET / HTTP/1.1\r\nhost: 127.0.0.1.lab.example:PORT\r\n",
            403,
        ),
        ("GET / HTTP/1.0\r\n", 403),
        ("GET / HTTP/1.1\r\nhost: 127.0.0.1:PORT\r\nhost: x\r\n", 400),
        (
            "POST / HTTP/1.1\r\nhost: localhost:PORT\r\norigin: http://localhost:PORT\r\n",
            200,
        ),
        (
            "POST / HTTP/1.1\r\nhost: localhost:PORT\r\norigin: https://localhost:PORT\r\n",
            403,
        ),
        (
            "POST / HTTP/1.1\r\nhost: localhost:PORT\r\norigin: http://lab.example\r\n",
            403,
        ),
        (
            "POST / HTTP/1.1\r\nhost: localhost:PORT\r\norigin: null\r\n",
            403,
        ),
        (
            "POST / HTTP/1.1\r\nhost: localhost:PORT\r\norigin: http://localhost:1\r\n",
            403,
        ),
        (
            "GET / HTTP/1.1\r\nhost: localhost:PORT\r\nsec-fetch-site: cross-site\r\n",
            403,
        ),
        (
            "GET / HTTP/1.1\r\nhost: localhost:PORT\r\nsec-fetch-site: same-site\r\n",
            403,
        ),
        (
            "GET / HTTP/1.1\r\nhost: localhost:PORT\r\nsec-fetch-site: same-origin\r\n",
            200,
        ),
        ("DELETE / HTTP/1.1\r\nhost: localhost:PORT\r\n", 405),
        ("GET /%zz HTTP/1.1\r\nhost: localhost:PORT\r\n", 400),
        ("GET /panic HTTP/1.1\r\nhost: localhost:PORT\r\n", 500),
    ] {
        assert_eq!(status(address, head), expected, "{head}");
    }
}

#[test]
fn a_browser_names_no_port_where_it_is_the_protocols_own() {
    for (host, port, ours) in [
        ("localhost", 80, true),
        ("localhost:80", 80, true),
        ("[::1]", 80, true),
        ("localhost", 8080, false),
        ("lab.example", 80, false),
    ] {
        assert_eq!(is_ours(host, port), ours, "{host} at {port}");
    }
}

#[test]
fn what_is_too_large_is_refused() {
    let address = server();
    let head = "POST / HTTP/1.1\r\nhost: localhost:PORT\r\n";
    assert!(ask(address, head, &vec![b'x'; BODY_LIMIT]).contains(&format!("/ {BODY_LIMIT}")));
    assert!(ask(address, head, &vec![b'x'; BODY_LIMIT + 1]).contains(" 413 "));
    let long = format!("{head}x: {}\r\n", "x".repeat(HEAD_LIMIT * 2));
    assert!(
        matches!(status(address, &long), 431 | 0),
        "refused or cut off"
    );
}

#[test]
fn every_answer_forbids_what_no_page_of_ours_needs() {
    let text = ask(server(), "GET / HTTP/1.1\r\nhost: localhost:PORT\r\n", b"").to_lowercase();
    for header in [
        "content-security-policy: default-src 'none'",
        "x-content-type-options: nosniff",
        "cross-origin-resource-policy: same-origin",
        "x-frame-options: deny",
        "cache-control: no-store",
    ] {
        assert!(text.contains(header), "{header} in {text}");
    }
    assert!(!text.contains("access-control"));
}

#[test]
fn a_slow_head_does_not_hold_others_up() {
    let address = server();
    let mut slow = std::net::TcpStream::connect(address).unwrap();
    slow.write_all(b"GET / HT").unwrap();
    assert_eq!(
        status(address, "GET / HTTP/1.1\r\nhost: localhost:PORT\r\n"),
        200
    );
}

/// What comes back to a client that begins and does not go on.
fn unfinished(address: SocketAddr, begun: &str) -> String {
    let mut stream = std::net::TcpStream::connect(address).unwrap();
    let begun = begun.replace("PORT", &address.port().to_string());
    stream.write_all(begun.as_bytes()).unwrap();
    let mut text = String::new();
    // Ends only because the server gives up.
    let _ = stream.read_to_string(&mut text);
    text
}

#[test]
fn a_slow_client_is_given_up() {
    let address = server_with(Duration::from_millis(50));
    let head = unfinished(address, "GET / HTTP/1.1\r\nhost: loc");
    assert!(
        matches!(head.split(' ').nth(1), None | Some("408")),
        "{head}"
    );
    let head = "POST / HTTP/1.1\r\nhost: localhost:PORT\r\nconnection: close\r\n";
    let body = unfinished(address, &format!("{head}content-length: 9\r\n\r\nx"));
    assert!(body.starts_with("HTTP/1.1 408"), "{body}");
    // A connection that was used once is not kept open for ever either.
    let idle = unfinished(address, "GET / HTTP/1.1\r\nhost: localhost:PORT\r\n\r\n");
    assert!(idle.starts_with("HTTP/1.1 200"), "{idle}");
}

#[test]
fn more_clients_than_there_is_room_for_wait_their_turn() {
    let address = server_with(Duration::from_millis(300));
    let slow: Vec<_> = (0..CONNECTIONS)
        .map(|_| {
            let mut stream = std::net::TcpStream::connect(address).unwrap();
            stream.write_all(b"GET / HT").unwrap();
            stream
        })
        .collect();
    // All rooms are taken until the slow ones are given up.
    assert_eq!(
        status(address, "GET / HTTP/1.1\r\nhost: localhost:PORT\r\n"),
        200
    );
    drop(slow);
}

//! The web server alone, while the command line is being written.

fn main() -> Result<(), closework::web::ServeError> {
    let notebook = std::env::args().nth(1).unwrap_or_else(|| "/tmp/closework-web/notebook.sqlite".into());
    let listen = std::env::args().nth(2).unwrap_or_else(|| "127.0.0.1:4711".into());
    let listen = listen.parse().unwrap_or_else(|_| std::net::SocketAddr::from(([127, 0, 0, 1], 4711)));
    closework::web::serve(&closework::web::ServeOptions { notebook: notebook.into(), listen, open_browser: false })
}

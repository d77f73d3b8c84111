use super::*;

fn headers(pairs: &[(HeaderName, &str)]) -> HeaderMap {
    pairs.iter().map(|(name, value)| (name.clone(), value.parse().unwrap())).collect()
}

/// RFC 6454, 7: what a browser says a form came from.
#[test]
fn a_form_counts_only_from_a_page_of_this_screen() {
    let host = (header::HOST, "shop.local:7480");
    let from = |origin: &str, secure| is_own(&headers(&[host.clone(), (header::ORIGIN, origin)]), secure);
    assert!(from("http://shop.local:7480", false));
    assert!(from("https://shop.local:7480", true));
    for elsewhere in
        ["null", "", "http://evil.example", "http://shop.local", "https://shop.local:7480", "shop.local:7480"]
    {
        assert!(!from(elsewhere, false), "{elsewhere}");
    }
    assert!(!is_own(&headers(std::slice::from_ref(&host)), false), "nothing said of where it came from");
    assert!(!is_own(&headers(&[(header::ORIGIN, "http://shop.local:7480")]), false));
}

#[test]
fn an_edition_goes_with_files_and_language() {
    assert_ne!(edition("en-GB"), edition("en-US"));
    assert_eq!(edition("en-GB"), edition("en-GB"));
    assert!(ASSETS.iter().all(|(name, ..)| name.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'.')));
}

#[tokio::test(start_paused = true)]
async fn a_wall_without_a_script_says_as_of_when_it_was_true() {
    let (texts, at) = (Texts::of("en-GB"), Instant::now());
    let empty = Frame::empty("a1", "2024-07-01T22:45:10Z".parse().unwrap(), at);
    let draw = |frame: &Frame, at| wall_of(&texts, "e1", frame, at).render().unwrap();
    assert!(!draw(&empty, at).contains("as of"), "nothing is shown yet");
    let zone = Some(jiff::tz::TimeZone::get("Europe/Berlin").unwrap());
    let lost = Frame { zone, hearing: crate::frame::Hearing::Lost(at + Duration::from_secs(5)), ..empty };
    let page = draw(&lost, at + Duration::from_secs(90));
    // In summer two hours before UTC's (IANA time zone database).
    assert!(page.contains("<noscript>as of 2024-07-02 00:45:15</noscript>"), "{page}");
    assert!(page.contains("<noscript><meta http-equiv=\"refresh\" content=\"20\"></noscript>"), "{page}");
}

use tokio_tungstenite::tungstenite::Message as Said;

use super::super::testing::{Bench, Live, ask, levels, state, view};
use super::*;

/// Kinds of message.
const LAYOUT: u8 = 1;
const LEVELS: u8 = 2;
const STATE: u8 = 3;
const SLOTS: u8 = 5;

fn word(message: &[u8], at: usize) -> u32 {
    u32::from_le_bytes(message[at..at + 4].try_into().unwrap())
}

async fn wish(client: &mut Live, text: &str) {
    client.say(Said::text(text)).await;
}

#[tokio::test(start_paused = true)]
async fn layout_then_levels_then_state() {
    let bench = Bench::new();
    bench.levels.send_replace(levels(5, 9));
    bench.state.send_replace(state(2.0, 1.0));
    let mut client = bench.open(None).await.unwrap();

    let layout = client.next().await.unwrap();
    assert_eq!(layout[..4], [1, 1, 0, 0]);
    assert_eq!(
        (word(&layout, 4), word(&layout, 12)),
        (1, 10),
        "revision, pixels"
    );
    let length = word(&layout, 8) as usize;
    assert_eq!((length % 4, layout.len()), (0, 16 + length + 10 * 8));
    let json: serde_json::Value = serde_json::from_slice(&layout[16..16 + length]).unwrap();
    assert_eq!(json, ask(&bench.router, "/api/v1/floor", &[]).await.json());
    let places = &layout[16 + length..];
    let mm = |at: usize| f32::from_le_bytes(places[at..at + 4].try_into().unwrap());
    assert!(
        (mm(8) - 300.0).abs() < 1e-6 && (mm(12) - 100.0).abs() < 1e-6,
        "second pixel"
    );

    let picture = client.next().await.unwrap();
    assert_eq!(
        picture[..16],
        [2, 0, 3, 0, 1, 0, 0, 0, 5, 0, 0, 0, 200, 0, 0, 0]
    );
    assert_eq!(picture[16..], [9; 30]);

    let told = client.next().await.unwrap();
    assert_eq!(told[..8], [3, 0, 0, 0, 1, 0, 0, 0]);
    let json: serde_json::Value = serde_json::from_slice(&told[8..]).unwrap();
    assert_eq!(json, ask(&bench.router, "/api/v1/state", &[]).await.json());
}

#[tokio::test(start_paused = true)]
async fn a_client_chooses_its_view_and_only_those_that_look_are_counted() {
    let bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    assert_eq!(bench.watchers(), 1);
    bench.levels.send_replace(levels(1, 9));
    assert_eq!(client.next_of(LEVELS).await[16], 9);

    // The same picture once more, because the view is another.
    wish(&mut client, r#"{"view":"asked","max_fps":30}"#).await;
    let asked = client.next_of(LEVELS).await;
    assert_eq!((asked[1], word(&asked, 8), asked[16]), (1, 1, 10));

    wish(&mut client, r#"{"view":"none"}"#).await;
    // Two states later the wish has long been heard.
    for round in 1..=2_u8 {
        bench.state.send_replace(state(f64::from(round), 0.0));
        client.next_of(STATE).await;
    }
    assert_eq!(bench.watchers(), 0);
    bench.levels.send_replace(levels(2, 20));
    bench.state.send_replace(state(3.0, 0.0));
    assert_eq!(
        client.next().await.unwrap()[0],
        STATE,
        "no picture for who does not look"
    );

    wish(&mut client, r#"{"view":"sent"}"#).await;
    let sent = client.next_of(LEVELS).await;
    assert_eq!((sent[1], word(&sent, 8), bench.watchers()), (0, 2, 1));
    client.leave().await;
    assert_eq!(bench.watchers(), 0);
}

#[tokio::test(start_paused = true)]
async fn nonsense_is_overlooked_and_too_much_ends_it() {
    let bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    for nonsense in [
        "",
        "hello",
        "[]",
        r#"{"view":"inside"}"#,
        r#"{"max_fps":"all"}"#,
        "{}",
    ] {
        wish(&mut client, nonsense).await;
    }
    client.say(Said::binary(vec![1, 2, 3])).await;
    wish(&mut client, r#"{"max_fps":-1e300}"#).await;
    wish(&mut client, r#"{"view":"asked"}"#).await;
    // The next state is not due at once: until then all of that has been heard.
    bench.state.send_replace(state(1.0, 0.0));
    client.next_of(STATE).await;
    bench.levels.send_replace(levels(1, 4));
    assert_eq!(
        client.next_of(LEVELS).await[1],
        1,
        "still served, and the last wish was heard"
    );
    let mut text = String::from(r#"{"view":"sent"}"#);
    text.push_str(&" ".repeat(4_096));
    wish(&mut client, &text).await;
    while client.next().await.is_some() {}
}

#[tokio::test(start_paused = true)]
async fn pictures_come_no_faster_than_asked_and_only_when_they_changed() {
    let bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    for (fps, most_ms) in [("30", 34), ("5", 201), ("1000", 34)] {
        wish(
            &mut client,
            &format!(r#"{{"view":"sent","max_fps":{fps}}}"#),
        )
        .await;
        let start = bench.levels.borrow().frame;
        let mut moments = Vec::new();
        for frame in start + 1..=start + 20 {
            bench.levels.send_replace(levels(frame, 1));
            assert_eq!(word(&client.next_of(LEVELS).await, 8), frame);
            moments.push(timers::now());
        }
        // On made-up time: 18 periods between the second and the last. (The first may still
        // come at the pace of before.)
        let mean_ms = (moments[19] - moments[1]).as_millis() / 18;
        assert!(
            (most_ms - 2..=most_ms).contains(&mean_ms),
            "{fps}: {mean_ms} ms"
        );
    }
    // The same frame again is no news.
    let same = Arc::clone(&bench.levels.borrow());
    bench.levels.send_replace(same);
    for round in 1..=2_u8 {
        bench.state.send_replace(state(f64::from(round), 0.0));
        assert_eq!(client.next().await.unwrap()[0], STATE);
    }
}

#[tokio::test(start_paused = true)]
async fn the_other_view_comes_too_for_who_asks_and_no_faster_than_asked() {
    let bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    wish(&mut client, r#"{"view":"sent","max_fps":30,"also_fps":5}"#).await;
    let mut moments = [Vec::new(), Vec::new()];
    let mut frame = 0;
    while moments[1].len() < 20 {
        frame += 1;
        bench.levels.send_replace(levels(frame, 1));
        loop {
            let picture = client.next_of(LEVELS).await;
            let view = usize::from(picture[1]);
            // One may already have been on its way when the next replaced it; no more queue up.
            let behind = frame - word(&picture, 8);
            assert!(behind <= 1, "{behind} behind the newest, view {view}");
            assert_eq!(picture[16], [1, 2][view], "its own levels");
            moments[view].push(timers::now());
            if view == 0 {
                break;
            }
        }
    }
    // On made-up time, the first left out: it came at once.
    for (moments, most_ms) in moments.iter().zip([34, 201]) {
        let periods = moments.len() - 2;
        let span = moments[periods + 1] - moments[1];
        let mean_ms = span.as_millis() / u128::try_from(periods).unwrap();
        assert!((most_ms - 2..=most_ms).contains(&mean_ms), "{mean_ms} ms");
        assert!(
            periods > 4,
            "the rare one must not starve, nor the other: {periods}"
        );
    }
    assert_eq!(bench.watchers(), 1, "one client, however much it looks at");

    // The other view ends with a wish that does not name it.
    wish(&mut client, r#"{"view":"sent"}"#).await;
    for round in 1..=2_u8 {
        bench.state.send_replace(state(f64::from(round), 0.0));
        client.next_of(STATE).await;
    }
    for next in frame + 1..=frame + 20 {
        bench.levels.send_replace(levels(next, 1));
        assert_eq!(client.next_of(LEVELS).await[1], 0);
    }
}

#[tokio::test(start_paused = true)]
async fn who_does_not_look_gets_no_other_view_either() {
    let bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    wish(&mut client, r#"{"view":"none","also_fps":5}"#).await;
    for round in 1..=2_u8 {
        bench.state.send_replace(state(f64::from(round), 0.0));
        client.next_of(STATE).await;
    }
    assert_eq!(bench.watchers(), 0);
    bench.levels.send_replace(levels(1, 1));
    for round in 3..=6_u8 {
        bench.state.send_replace(state(f64::from(round), 0.0));
        assert_eq!(client.next().await.unwrap()[0], STATE);
    }
}

#[tokio::test(start_paused = true)]
async fn states_come_four_times_a_second() {
    let bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    let start = timers::now();
    for round in 1..=8_u8 {
        bench.state.send_replace(state(f64::from(round), 0.0));
        client.next_of(STATE).await;
    }
    assert_eq!(start.elapsed().as_millis() / 10, 200);
}

#[tokio::test(start_paused = true)]
async fn a_slow_client_misses_pictures_and_holds_nobody_back() {
    let bench = Bench::new();
    // Room for the greeting and a few pictures.
    let mut slow = bench.open_through(8_192, None).await.unwrap();
    let mut quick = bench.open(None).await.unwrap();
    slow.next_of(STATE).await;
    quick.next_of(STATE).await;
    for frame in 1..=250 {
        bench.levels.send_replace(levels(frame, 1));
        assert_eq!(word(&quick.next_of(LEVELS).await, 8), frame);
    }
    let mut taken = Vec::new();
    while taken.last() != Some(&250) {
        taken.push(word(&slow.next_of(LEVELS).await, 8));
    }
    assert!(taken.len() < 240, "{} taken", taken.len());
    assert!(
        taken.windows(2).all(|pair| pair[0] < pair[1]),
        "never an older one"
    );
}

#[tokio::test(start_paused = true)]
async fn who_takes_nothing_or_says_nothing_is_let_go() {
    let bench = Bench::new();
    // No room for the layout, and nobody reads it; and one that could be read, but whose pings
    // are never seen, let alone answered.
    let stuck = bench.open_through(1_024, None).await.unwrap();
    let silent = bench.open_through(1 << 20, None).await.unwrap();
    let mut lively = bench.open(None).await.unwrap();
    lively.next_of(STATE).await;
    assert_eq!(bench.watchers(), 3);
    let start = timers::now();
    let mut left = Vec::new();
    while bench.watchers() > 1 {
        let before = bench.watchers();
        bench
            .state
            .send_replace(state(start.elapsed().as_secs_f64(), 0.0));
        lively.next_of(STATE).await;
        if bench.watchers() < before {
            left.push(start.elapsed().as_secs());
        }
    }
    assert_eq!(left, [10, 30]);
    drop((stuck, silent));
    bench.levels.send_replace(levels(1, 1));
    lively.next_of(LEVELS).await;
}

#[tokio::test(start_paused = true)]
async fn a_new_floor_comes_with_its_own_picture() {
    let bench = Bench::new();
    bench.levels.send_replace(levels(1, 1));
    let mut client = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    bench.floor.send_replace(view(2));
    let layout = client.next().await.unwrap();
    assert_eq!((layout[0], word(&layout, 4)), (LAYOUT, 2));
    // Nothing of the floor of before follows, however often it comes.
    bench.levels.send_replace(levels(2, 9));
    bench.state.send_replace(state(1.0, 0.0));
    let of_new = |levels: &Levels| Levels {
        revision: 2,
        ..levels.clone()
    };
    // On made-up time: longer than every pace.
    let second = timers::within(Duration::from_secs(1), client.next());
    assert!(second.await.is_err(), "nothing comes");
    bench.levels.send_replace(Arc::new(of_new(&levels(3, 1))));
    let picture = client.next().await.unwrap();
    assert_eq!(
        (picture[0], word(&picture, 4), word(&picture, 8)),
        (LEVELS, 2, 3)
    );
    bench.state.send_replace(Arc::new(State {
        revision: 2,
        ..State::default()
    }));
    let state = client.next().await.unwrap();
    assert_eq!((state[0], word(&state, 4)), (STATE, 2));
    // A picture of another number of pixels is of another floor.
    bench.levels.send_replace(Arc::new(Levels {
        revision: 2,
        frame: 4,
        ..Levels::default()
    }));
    bench.state.send_replace(Arc::new(State {
        revision: 2,
        ..State::default()
    }));
    assert_eq!(client.next().await.unwrap()[0], STATE);
}

#[tokio::test(start_paused = true)]
async fn who_understands_changes_gets_what_differs_from_what_it_has() {
    const DELTA: u8 = 7;
    let bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    let mut plain = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    plain.next_of(STATE).await;
    wish(&mut client, r#"{"deltas":true}"#).await;
    bench.levels.send_replace(levels(1, 5));
    // Nothing was sent before: all of it.
    assert_eq!(client.next_of(LEVELS).await[16..], [5; 30]);
    plain.next_of(LEVELS).await;
    let one_changed = |frame, level| {
        let mut next = Levels::clone(&levels(frame, 5));
        next.sent[27..30].fill(level);
        Arc::new(next)
    };
    bench.levels.send_replace(one_changed(2, 8));
    let change = client.next_of(DELTA).await;
    assert_eq!((word(&change, 8), word(&change, 16)), (2, 1));
    // Each moved by 3, which is written as 8 + 3.
    assert_eq!(change[20..], [9, 0, 1, 0x80, 0xBB, 0x0B]);
    assert_eq!(plain.next_of(LEVELS).await[16 + 27..], [8; 3]);
    // The other view has not changed, but is new to the client: all of it.
    wish(&mut client, r#"{"view":"asked"}"#).await;
    assert_eq!(client.next_of(LEVELS).await[16..], [6; 30]);
    // So is the picture of a floor that takes over.
    bench.floor.send_replace(view(2));
    client.next_of(LAYOUT).await;
    bench.levels.send_replace(Arc::new(Levels {
        revision: 2,
        ..Levels::clone(&one_changed(3, 9))
    }));
    assert_eq!(word(&client.next_of(LEVELS).await, 4), 2);
}

#[tokio::test(start_paused = true)]
async fn ends_with_the_daemon() {
    let mut bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    bench.drop_state();
    assert_eq!(client.next().await, None);
}

/// Two universes on a made-up clock: 0:0:1 with a frame of 24 slots, 0:0:2 never seen.
fn arrived(level: u8) -> Arc<AllSlots> {
    use crate::engine::{Engine, Me, out};
    use crate::floor::testing;
    use crate::units::Time;
    use std::net::{Ipv4Addr, SocketAddrV4};

    struct Nowhere;
    impl out::Outlet for Nowhere {
        fn send(&mut self, _: out::Datagram<'_>) -> bool {
            true
        }
    }
    let me = Me {
        listener: SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6454),
        interfaces: Vec::new(),
    };
    let (floor, tables) = (testing::floor(), testing::tables());
    let mut engine = Engine::new(Arc::new(floor), Arc::new(tables), me, Time::from_ms(0));
    let mut bytes = b"Art-Net\0\x00\x50\x00\x0e\0\0\x01\0\0\x18".to_vec();
    bytes.extend([0; 24]);
    bytes[18 + 3] = level;
    let from = SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6454);
    engine.handle(Time::from_ms(200), from, &bytes, &mut Nowhere);
    Arc::new(engine.slots(Time::from_ms(250)))
}

#[tokio::test(start_paused = true)]
async fn slots_come_for_who_asks_and_only_then() {
    let bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    bench.slots.send_replace(arrived(7));
    bench.state.send_replace(state(1.0, 0.0));
    assert_eq!(client.next().await.unwrap()[0], STATE, "nobody asked");
    assert_eq!(bench.slot_watchers(), 0);

    let text = r#"{"view":"none","slots":["0:0:2","9:9:9","0:0:1","nonsense"]}"#;
    wish(&mut client, text).await;
    bench.state.send_replace(state(2.0, 0.0));
    client.next_of(STATE).await;
    assert_eq!(bench.slot_watchers(), 1);
    bench.slots.send_replace(arrived(9));
    let told = client.next_of(SLOTS).await;
    // Two of them are known; each is 12 bytes, 512 levels and 512 bits.
    assert_eq!(told[..12], [SLOTS, 0, 2, 0, 1, 0, 0, 0, 250, 0, 0, 0]);
    assert_eq!(told.len(), 12 + 2 * 588);
    assert_eq!(told[12..24], [2, 0, 0, 0, 255, 255, 255, 255, 0, 0, 0, 0]);
    let one = &told[12 + 588..];
    assert_eq!(one[..12], [1, 0, 24, 0, 50, 0, 0, 0, 0, 0, 0, 0]);
    assert_eq!(one[12..18], [0, 0, 0, 9, 0, 0]);
    assert_eq!(one[12 + 512..][..2], [0b1000, 0], "slot 4 moved");

    // With a reference each says where it has landed: one lit slot of many is unclear.
    let text = r#"{"slots":["0:0:1","0:0:2"],"reference":"all"}"#;
    wish(&mut client, text).await;
    let told = client.next_of(SLOTS).await;
    assert_eq!((told[12 + 8], told[12 + 588 + 8]), (4, 1));

    wish(&mut client, r#"{"slots":[]}"#).await;
    for round in 3..=4_u8 {
        bench.state.send_replace(state(f64::from(round), 0.0));
        client.next_of(STATE).await;
    }
    assert_eq!(bench.slot_watchers(), 0);
    bench.slots.send_replace(arrived(1));
    bench.state.send_replace(state(5.0, 0.0));
    assert_eq!(client.next().await.unwrap()[0], STATE);
}

#[tokio::test(start_paused = true)]
async fn slots_come_ten_times_a_second_at_most() {
    let bench = Bench::new();
    let mut client = bench.open(None).await.unwrap();
    client.next_of(STATE).await;
    wish(&mut client, r#"{"view":"none","slots":["0:0:1"]}"#).await;
    bench.state.send_replace(state(1.0, 0.0));
    client.next_of(STATE).await;
    let slots = arrived(1);
    bench.slots.send_replace(Arc::clone(&slots));
    client.next_of(SLOTS).await;
    let start = timers::now();
    for _ in 0..20 {
        bench.slots.send_replace(Arc::clone(&slots));
        client.next_of(SLOTS).await;
    }
    // On made-up time.
    assert!((1_900..=2_010).contains(&start.elapsed().as_millis()));
}

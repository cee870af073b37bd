//! Who gets answers, whatever others do.

use proptest::prelude::*;

use super::*;

const CONSOLE: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, 5), PORT);

/// More addresses than have a place among the favoured.
const MORE_THAN_FAVOURED: u32 = 20;
const _: () = assert!(FAVOURED < MORE_THAN_FAVOURED as usize);

fn at(address: u32, port: u16) -> SocketAddrV4 {
    SocketAddrV4::new(address.into(), port)
}

fn fits(callers: &Callers) -> bool {
    callers.new.len() <= NEW && callers.known.len() <= KNOWN
}

#[test]
fn who_polls_as_the_standard_says_is_always_answered() {
    let mut callers = Callers::default();
    for poll in 0..1_000 {
        assert!(callers.may_answer(CONSOLE, Time::from_ms(poll * 2_500)));
    }
}

#[test]
fn who_polls_without_end_gets_one_answer_a_second() {
    for (favoured, port) in [(false, PORT), (false, 1), (true, PORT), (true, 1)] {
        let mut callers = Callers::default();
        let from = SocketAddrV4::new(*CONSOLE.ip(), port);
        let answered = (0..10_000)
            .filter(|&ms| {
                if favoured {
                    callers.favour(*from.ip(), Time::from_ms(ms));
                }
                callers.may_answer(from, Time::from_ms(ms))
            })
            .count();
        // 4 at once and then one a second, for ten seconds less a millisecond.
        assert_eq!(answered, 4 + 9);
    }
}

#[test]
fn all_ports_but_one_are_one_caller() {
    let mut callers = Callers::default();
    let answered = (0..10_000_u16)
        .filter(|&ms| {
            let from = SocketAddrV4::new(*CONSOLE.ip(), if ms == PORT { 1 } else { ms });
            callers.may_answer(from, Time::from_ms(ms.into()))
        })
        .count();
    assert_eq!(answered, 4 + 9);
    assert!(callers.may_answer(CONSOLE, Time::from_ms(10_000)));
}

/// A favour that ends and begins again does not give its four answers each time.
#[test]
fn a_favour_that_comes_and_goes_gives_no_more_answers() {
    let mut callers = Callers::default();
    let mut answered = 0;
    for ms in 0..100_000 {
        let now = Time::from_ms(ms);
        if ms % 10_500 == 500 {
            callers.favour(*CONSOLE.ip(), now);
        }
        answered += u64::from(callers.may_answer(CONSOLE, now));
    }
    assert_eq!(answered, 4 + 99);
}

/// Whoever sends from many addresses keeps none out that the floor file names, and none of those that it
/// names keeps out another.
#[test]
fn whom_the_floor_file_names_goes_before_whoever_only_sends() {
    let mut callers = Callers::default();
    let senders = (0_u32..)
        .take(FAVOURED)
        .map(|sender| *at(0x0B00_0000 + sender, 1).ip());
    for (sender, ms) in senders.clone().zip(0..) {
        callers.favour(sender, Time::from_ms(ms));
    }
    let now = Time::from_ms(100);
    let has = |callers: &Callers, address| {
        let mut places = callers.favoured.iter().flatten();
        places.any(|favoured| favoured.address == address)
    };
    callers.favour(*CONSOLE.ip(), now);
    assert!(!has(&callers, *CONSOLE.ip()), "who came first stays");
    callers.favour_named(*CONSOLE.ip(), now);
    assert!(has(&callers, *CONSOLE.ip()));
    let left: Vec<bool> = senders.map(|sender| has(&callers, sender)).collect();
    assert!(!left[0] && left[1..].iter().all(|&stays| stays), "{left:?}");
    for other in (0_u32..).take(2 * FAVOURED) {
        callers.favour_named(*at(0x0C00_0000 + other, 1).ip(), now);
    }
    assert!(has(&callers, *CONSOLE.ip()), "it is named too");
}

#[test]
fn a_flood_of_forged_addresses_leaves_the_console_its_answers() {
    let mut callers = Callers::default();
    let mut answered = 0;
    for ms in 0..60_000_u64 {
        let now = Time::from_ms(ms);
        if ms % 2_800 == 0 && ms >= 2_800 {
            assert!(callers.may_answer(CONSOLE, now), "at {ms} ms");
        } else if ms == 0 {
            callers.may_answer(CONSOLE, now);
        } else if ms < 2_800 {
            // The flood begins when the console is known.
            continue;
        } else {
            let forged = at(0x0B00_0000 + u32::try_from(ms).unwrap(), PORT);
            answered += u64::from(callers.may_answer(forged, now));
        }
        assert!(fits(&callers));
    }
    // No more than the burst and what time brings.
    assert!(answered <= BURST + 60_000_000 / PAUSE_US, "{answered}");
}

/// A poll, or a frame that is taken, after a pause.
#[derive(Debug, Clone, Copy)]
struct Step {
    pause_ms: u64,
    from: SocketAddrV4,
    frame: bool,
}

/// Steps with pauses of up to `most_ms`, of which a part as large as `frames` are frames.
fn step(addresses: u32, most_ms: u64, frames: f64) -> impl Strategy<Value = Step> {
    let pause = prop_oneof![30 => 0..most_ms, 1 => 0_u64..1_500];
    let port = prop_oneof![Just(PORT), 1_u16..4];
    (pause, 0..addresses, port, prop::bool::weighted(frames)).prop_map(
        |(pause_ms, address, port, frame)| Step {
            pause_ms,
            from: at(0x0B00_0000 + address, port),
            frame,
        },
    )
}

/// The moments at which polls of these steps are answered, and to whom.
fn answers(callers: &mut Callers, steps: &[Step]) -> Vec<(u64, Ipv4Addr)> {
    let (mut ms, mut answered) = (0, Vec::new());
    for step in steps {
        ms += step.pause_ms;
        let now = Time::from_ms(ms);
        if step.frame {
            callers.favour(*step.from.ip(), now);
        } else if callers.may_answer(step.from, now) {
            answered.push((ms, *step.from.ip()));
        }
    }
    answered
}

/// Of all windows that begin and end with an answer, whether each has no more than `most` of its length in
/// milliseconds.
fn is_bounded(moments: &[u64], most: impl Fn(u64) -> u64) -> bool {
    (0..moments.len()).all(|first| {
        let rest = moments[first..].iter().zip(1_u64..);
        rest.into_iter()
            .all(|(&last, count)| count <= most(last - moments[first]))
    })
}

proptest! {
    /// Whoever asks however often: in any window no more answers to all than the rights give, and tables of
    /// their size. Some hundred polls a second.
    #[test]
    fn answers_and_tables_stay_within_bounds(
        steps in prop::collection::vec(step(200, 3, 0.0), 500..1_500),
    ) {
        let mut callers = Callers::default();
        let answered = answers(&mut callers, &steps);
        prop_assert!(fits(&callers));
        let moments: Vec<u64> = answered.iter().map(|&(ms, _)| ms).collect();
        let bounded = is_bounded(&moments, |ms| 2 * (BURST + ms * 1_000 / PAUSE_US));
        prop_assert!(bounded, "{moments:?}");
    }

    /// The same of those that are favoured, whoever of more than have a place that is.
    #[test]
    fn what_favour_adds_is_bounded(
        steps in prop::collection::vec(step(MORE_THAN_FAVOURED, 2, 0.1), 500..1_500),
    ) {
        let mut callers = Callers::default();
        let answered = answers(&mut callers, &steps);
        let moments: Vec<u64> = answered.iter().map(|&(ms, _)| ms).collect();
        let bounded = is_bounded(&moments, |ms| {
            let shared = 2 * (BURST + ms * 1_000 / PAUSE_US);
            // A place is free again after ten seconds without a frame.
            let lives = 1 + ms / (SOURCE_LEAVES_AFTER_S * 1_000);
            let favoured = 2 * FAVOURED as u64 * (ITS_BURST * lives + ms * 1_000 / ITS_PAUSE_US);
            shared + favoured
        });
        prop_assert!(bounded, "{moments:?}");
    }

    /// One address gets no more than two callers do, whatever ports it polls from and whether its
    /// picture is taken or not, while no other takes its place in a table.
    #[test]
    fn an_address_gets_no_more_than_two_rights(steps in prop::collection::vec(step(3, 20, 0.2), 1..600)) {
        let all = answers(&mut Callers::default(), &steps);
        for whose in 0..3 {
            let whose = *at(0x0B00_0000 + whose, 1).ip();
            let its = all.iter().filter(|(_, address)| *address == whose);
            let moments: Vec<u64> = its.map(|&(ms, _)| ms).collect();
            let bounded = is_bounded(&moments, |ms| 2 * (ITS_BURST + ms * 1_000 / ITS_PAUSE_US));
            prop_assert!(bounded, "{moments:?}");
        }
    }

    /// A console whose picture is taken, and that polls every 2.5 s from the port of Art-Net, is always
    /// answered: whoever else polls and sends, even from its own address with other ports.
    #[test]
    fn whose_picture_is_taken_is_always_answered(
        steps in prop::collection::vec(step(200, 20, 0.2), 1..1_000),
        own in 1_usize..10,
    ) {
        let mut callers = Callers::default();
        callers.favour(*CONSOLE.ip(), Time::from_ms(0));
        let (mut ms, mut next_poll) = (0, 0);
        for (nth, mut step) in steps.into_iter().enumerate() {
            if nth % own == 0 {
                step.from = SocketAddrV4::new(*CONSOLE.ip(), 7);
            }
            ms += step.pause_ms;
            let now = Time::from_ms(ms);
            // It repeats its frames within a second and a half here.
            callers.favour(*CONSOLE.ip(), now);
            if ms >= next_poll {
                prop_assert!(callers.may_answer(CONSOLE, now), "at {} ms", ms);
                next_poll = ms + 2_500;
            }
            answers_at(&mut callers, step, now);
        }
    }
}

fn answers_at(callers: &mut Callers, step: Step, now: Time) {
    if step.frame {
        callers.favour(*step.from.ip(), now);
    } else {
        callers.may_answer(step.from, now);
    }
}

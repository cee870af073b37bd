//! A floor with sensors and broken joints, and what carries news and lights between engine and
//! surveyor, as the program does beside the frames.

use std::collections::{BTreeSet, VecDeque};
use std::fmt::Write;
use std::sync::Arc;

use litfloor::engine::command::Command;
use litfloor::engine::survey::about::About;
use litfloor::engine::survey::state::{Ended, SurveyState};
use litfloor::engine::survey::surveyor::Surveyor;
use litfloor::engine::survey::{Held, News, What, Wish};
use litfloor::floor::model::Measured;
use litfloor::sim::link::Chance;
use litfloor::sim::real::{Real, Scatter};
use litfloor::units::Time;

use super::support::World;

/// A sensor at every feed.
pub const FEEDS: &[&str] = &[
    "feed = \"l1\"",
    "feed = \"r1\"",
    "feed = \"l2\"",
    "feed = \"r2\"",
];

/// Milliseconds between two looks at what flows.
const STEP_MS: u64 = 10;

/// Eight panels of twelve pixels in four segments, two supplies with two feeds each.
pub fn floor(sensors: &[&str]) -> String {
    let mut text = String::from(
        "name = \"surveyed\"\n[grid]\ncolumns = 4\nrows = 2\npanel_mm = [500, 500]\npanel = \"p\"\n\
         [pixel.d]\nslots = \"RGB\"\nvolts = 12\n\
         full_ma = { red = 60, green = 60, blue = 60 }\nidle_ma = 2\n\
         [panel.p]\npixel = \"d\"\ncolumns = 4\nrows = 3\nsegments = [3, 3, 3, 3]\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 16\n",
    );
    for supply in 1..=2 {
        let _ = writeln!(
            text,
            "[[node]]\nname = \"n{supply}\"\naddress = \"10.9.1.{supply}\"\n\
             [[run]]\nnode = \"n{supply}\"\nstart = \"0:0:{supply}\"\npanels = [\"A{supply}..D{supply}\"]\n\
             [[supply]]\nname = \"s{supply}\"\ncircuit = \"c\"\nvolts = 12\nrated_a = 20\n\
             efficiency = 0.88\npower_factor = 0.95\n\
             [[feed]]\nname = \"l{supply}\"\nsupply = \"s{supply}\"\nfuse_a = 10\n\
             positions = [\"A{supply}..B{supply}\"]\n\
             [[feed]]\nname = \"r{supply}\"\nsupply = \"s{supply}\"\nfuse_a = 10\n\
             positions = [\"C{supply}..D{supply}\"]"
        );
    }
    for (at, of) in sensors.iter().enumerate() {
        let _ = writeln!(text, "[[sensor]]\nname = \"m{at}\"\n{of}\nevery_s = 0.1");
    }
    text
}

/// 256 segments of 0.78 A on one supply, and one sensor of 200 A there.
pub fn large() -> String {
    String::from(
        "name = \"large\"\n[grid]\ncolumns = 8\nrows = 8\npanel_mm = [500, 500]\npanel = \"p\"\n\
         [pixel.d]\nslots = \"RGB\"\nvolts = 12\n\
         full_ma = { red = 260, green = 260, blue = 260 }\nidle_ma = 2\n\
         [panel.p]\npixel = \"d\"\ncolumns = 2\nrows = 2\nsegments = [1, 1, 1, 1]\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 32\n\
         [[node]]\nname = \"n\"\naddress = \"10.9.1.1\"\n\
         [[run]]\nnode = \"n\"\nstart = \"0:0:0\"\npanels = [\"A1..H8\"]\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = 300\n\
         efficiency = 0.88\npower_factor = 0.95\n\
         [[feed]]\nname = \"f\"\nsupply = \"s\"\nfuse_a = 300\npositions = [\"A1..H8\"]\n\
         [[sensor]]\nname = \"m\"\nsupply = \"s\"\nevery_s = 0.1\n",
    )
}

/// A sensor that means over its period and tells it later.
#[derive(Debug)]
pub struct Meter {
    gain: f64,
    offset_a: f64,
    noise_a: f64,
    step_a: f64,
    /// By how much it tells late.
    pub late_ms: u64,
    every_ms: u64,
    sum: f64,
    count: f64,
    next: Time,
    on_its_way: VecDeque<(Time, f64)>,
    /// Whether it says the same again and again.
    pub frozen: bool,
    /// Whether it says nothing.
    pub silent: bool,
    last: f64,
}

impl Meter {
    fn new(chance: &mut Chance, every_s: f64, scale: f64) -> Self {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a second"
        )]
        let every_ms = (every_s * 1e3) as u64;
        Self {
            gain: 1.0 + 0.01 * (2.0 * chance.share() - 1.0),
            offset_a: 0.1 * scale * (2.0 * chance.share() - 1.0),
            noise_a: 0.02 * scale,
            step_a: 0.01 * scale,
            late_ms: chance.up_to(300),
            every_ms,
            sum: 0.0,
            count: 0.0,
            next: Time::from_ms(chance.up_to(every_ms)),
            on_its_way: VecDeque::new(),
            frozen: false,
            silent: false,
            last: 0.0,
        }
    }

    /// From now on it does not waver.
    pub const fn be_steady(&mut self) {
        self.noise_a = 0.0;
    }

    /// From now on it says this and nothing else.
    pub const fn freeze_at(&mut self, value_a: f64) {
        (self.frozen, self.last) = (true, value_a);
    }

    /// Sees what flows now; gives what it says now.
    fn see(&mut self, true_a: f64, now: Time, chance: &mut Chance) -> Option<f64> {
        self.sum += true_a;
        self.count += 1.0;
        if now >= self.next {
            let a =
                self.sum / self.count * self.gain + self.offset_a + self.noise_a * normal(chance);
            let said = (a / self.step_a).round() * self.step_a;
            (self.sum, self.count) = (0.0, 0.0);
            self.next = now.plus_ms(self.every_ms);
            if !self.frozen {
                self.last = said;
            }
            self.on_its_way
                .push_back((now.plus_ms(self.late_ms), self.last));
        }
        let due = self.on_its_way.front().is_some_and(|(at, _)| now >= *at);
        let said = if due {
            self.on_its_way.pop_front()
        } else {
            None
        };
        said.map(|(_, a)| a).filter(|_| !self.silent)
    }
}

/// About normal, of variance 1: the sum of twelve uniform numbers less six (textbook).
fn normal(chance: &mut Chance) -> f64 {
    (0..12).map(|_| chance.share()).sum::<f64>() - 6.0
}

/// Everything around a survey.
pub struct Bench {
    pub world: World,
    pub real: Real,
    pub broken: BTreeSet<(usize, usize)>,
    pub meters: Vec<Meter>,
    pub chance: Chance,
    pub surveyor: Option<Surveyor>,
    pub about: About,
    pub ended: Option<litfloor::engine::survey::Ending>,
    /// Whether nobody takes the news.
    pub deaf: bool,
    /// Lights that were held, and when each was over, for whoever else listens.
    pub held: Vec<(Arc<Held>, Time)>,
    /// What the console plays again and again.
    plays: Option<u8>,
    next_frame: Time,
}

impl Bench {
    pub fn new(text: &str, seed: u64) -> Self {
        Self::with_loss(text, seed, 0.1, |_| {})
    }

    /// One of which something is different from the beginning.
    pub fn beginning(text: &str, seed: u64, before: impl Fn(&mut Self)) -> Self {
        Self::with_loss(text, seed, 0.1, before)
    }

    /// One whose network loses this share of all datagrams.
    pub fn with_loss(text: &str, seed: u64, loss: f64, before: impl Fn(&mut Self)) -> Self {
        let mut chance = Chance::new(seed ^ 0x50_7E);
        let world = World::new(text, seed, loss);
        let sensors = world.floor.sensors.iter();
        let scatter = |_| Scatter {
            reel: 0.0,
            own: 0.03,
        };
        // Mains amperes are fewer, and so is what their sensors waver by; a sensor of 200 A wavers by 1 A.
        let large = world.floor.supplies[0].rated_a.0 > 100.0;
        let scale = |of| match of {
            Measured::Circuit(_) => 0.06,
            _ if large => 50.0,
            _ => 1.0,
        };
        let meters = sensors
            .map(|of| Meter::new(&mut chance, of.every_s, scale(of.of)))
            .collect();
        let mut bench = Self {
            real: Real::new(&world.floor, &mut chance, scatter),
            world,
            broken: BTreeSet::new(),
            meters,
            chance,
            surveyor: None,
            about: About {
                positions: None,
                weak: false,
                level: 255,
            },
            ended: None,
            deaf: false,
            held: Vec::new(),
            plays: None,
            next_frame: Time(0),
        };
        before(&mut bench);
        // What nodes showed before the beginning is gone, and sensors are known.
        bench.pass(2_000, |_| {});
        bench
    }

    /// So many segments are dead; gives their positions and numbers, in the floor's order.
    pub fn break_some(&mut self, count: usize) -> Vec<(String, u32)> {
        while self.broken.len() < count {
            let panels = u64::try_from(self.world.floor.panels.len()).unwrap();
            let panel = usize::try_from(self.chance.up_to(panels - 1)).unwrap();
            let segments = self.world.tables.panels[panel].segments.len();
            let last = u64::try_from(segments - 1).unwrap();
            let segment = usize::try_from(self.chance.up_to(last)).unwrap();
            self.break_segment(panel, segment);
        }
        let named = self.broken.iter().copied().map(|(panel, segment)| {
            let position = self.world.floor.panels[panel].position.to_string();
            (position, u32::try_from(segment).unwrap() + 1)
        });
        named.collect()
    }

    /// A segment is dead from now on.
    pub fn break_segment(&mut self, panel: usize, segment: usize) {
        self.broken.insert((panel, segment));
        let floor = &self.world.floor;
        // The witness has its pixels in wiring order, run by run.
        let wired = floor.runs.iter().flat_map(|run| run.panels.iter().copied());
        let before = wired.take_while(|&at| at != panel);
        let before = before.map(|at| self.world.tables.panels[at].pixels);
        let own = &self.world.tables.panels[panel];
        let first = before.sum::<u32>() + own.segments[..segment].iter().sum::<u32>();
        for pixel in first..first + own.segments[segment] {
            self.real.kill(usize::try_from(pixel).unwrap());
        }
    }

    /// Lets time pass.
    pub fn pass(&mut self, ms: u64, mut each: impl FnMut(&World)) {
        for _ in 0..ms / STEP_MS {
            let until = self.world.now.plus_ms(STEP_MS);
            self.world.run_until(until, &mut each);
            self.play();
            self.report();
            if !self.deaf {
                self.carry();
            }
        }
    }

    /// From now on the console shows one level on all slots.
    pub const fn console_plays(&mut self, level: u8) {
        self.plays = Some(level);
    }

    fn play(&mut self) {
        let Some(level) = self.plays.filter(|_| self.world.now >= self.next_frame) else {
            return;
        };
        self.next_frame = self.world.now.plus_ms(40);
        for universe in 0..self.world.tables.universes.len() {
            self.world.console_sends(universe, &[level; 512]);
        }
    }

    /// Begins a survey if that is possible.
    pub fn try_survey(&mut self) -> bool {
        self.world
            .command(Command::Survey(Wish::default()))
            .unwrap();
        self.ended = None;
        let Some(news) = self.world.engine.survey_news() else {
            return false;
        };
        self.hear(news)
    }

    fn report(&mut self) {
        let amperes = self.real.amperes(&self.world.nodes);
        let mut readings = Vec::new();
        for (meter, of) in self.meters.iter_mut().zip(&self.world.floor.sensors) {
            let true_a = match of.of {
                Measured::Circuit(at) => amperes.circuits[at],
                Measured::Supply(at) => amperes.supplies[at],
                Measured::Feed(at) => amperes.feeds[at],
                Measured::Panel(_) => continue,
            };
            let said = meter.see(true_a, self.world.now, &mut self.chance);
            readings.extend(said.map(|a| (of.name.clone(), a)));
        }
        if !readings.is_empty() {
            self.world.command(Command::Readings(readings)).unwrap();
        }
    }

    /// Begins a survey.
    pub fn survey(&mut self, owner: Option<u64>) {
        let wish = Wish {
            owner,
            ..Wish::default()
        };
        self.world.command(Command::Survey(wish)).unwrap();
        self.ended = None;
        self.carry();
    }

    /// Why a survey can't begin.
    pub fn refused(&mut self) -> &'static str {
        let refused = self.world.command(Command::Survey(Wish::default()));
        refused.unwrap_err().code
    }

    /// Carries news to the surveyor and its light back.
    pub fn carry(&mut self) {
        if let Some(news) = self.world.engine.survey_news() {
            self.hear(news);
        }
    }

    fn hear(&mut self, news: News) -> bool {
        match news.what {
            What::Begun(brief) => {
                let (floor, tables) = (
                    Arc::clone(&self.world.floor),
                    Arc::clone(&self.world.tables),
                );
                let surveyor = Surveyor::new(floor, tables, brief, news.run, &self.about);
                self.surveyor = surveyor.ok();
            }
            What::Held(held) => {
                self.held.push((Arc::clone(&held), self.world.now));
                if let Some(surveyor) = &mut self.surveyor {
                    surveyor.take(&held);
                }
            }
            What::Ended(ending) => {
                if let Some(surveyor) = &mut self.surveyor {
                    surveyor.end(Ended::Stopped, ending.text());
                }
                self.ended = Some(ending);
                return false;
            }
        }
        let light = self.surveyor.as_ref().and_then(Surveyor::light);
        let goes_on = light.is_some();
        let order = light.map_or(Command::StopSurvey(Some(news.run)), Command::SurveyLight);
        self.world.command(order).unwrap();
        goes_on
    }

    /// Runs until the survey has ended.
    pub fn run_to_its_end(&mut self) {
        for _ in 0..2_000 {
            if self.ended.is_some() {
                return;
            }
            self.pass(1_000, |_| {});
        }
        panic!("it never ended: {:?}", self.state());
    }

    pub fn state_if_any(&self) -> Option<SurveyState> {
        self.surveyor.as_ref().map(Surveyor::state)
    }

    pub fn state(&self) -> SurveyState {
        self.surveyor.as_ref().unwrap().state()
    }
}

//! Stand-in: one item at a time.
use super::{Condition, Judged};

#[derive(Debug, Clone, Default)]
pub struct SurveyItem {
    pub full_a: f64,
    pub sensors: Vec<u16>,
}
#[derive(Debug, Clone, Copy, Default)]
pub struct SurveySensor {
    pub every_s: f64,
    pub noise_a: f64,
    pub step_a: f64,
    pub gain_sd: f64,
    pub offset_sd_a: f64,
    pub drift_a: f64,
    pub lag_s: f64,
    pub idle_a: f64,
    pub factor: f64,
}
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Room {
    pub items: Vec<u32>,
    pub room_a: f64,
}
#[derive(Debug, Clone, Default)]
pub struct SurveySpec {
    pub weak: bool,
    pub items: Vec<SurveyItem>,
    pub sensors: Vec<SurveySensor>,
    pub rooms: Vec<Room>,
    pub tolerance: f64,
    pub false_alarm: f64,
    pub miss: f64,
    pub least_hold_s: f64,
    pub most_s: f64,
    pub seed: u64,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not possible")]
pub struct NotPossible;
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    Decided,
    CannotTell,
    TimeIsUp,
}
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    Next,
    Done(End),
}
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    pub decided: u32,
    pub items: u32,
    pub spent_s: f64,
    pub left_s: Option<f64>,
}
#[derive(Debug)]
pub struct Survey {
    spec: SurveySpec,
    at: usize,
    light: Vec<u8>,
    judged: Vec<Judged>,
    shares: Vec<f64>,
    spent_s: f64,
}
impl Survey {
    pub fn new(spec: SurveySpec) -> Result<Self, NotPossible> {
        let n = spec.items.len();
        if n == 0 {
            return Err(NotPossible);
        }
        let mut light = vec![0; n];
        light[0] = 255;
        Ok(Self {
            at: 0,
            light,
            judged: vec![
                Judged {
                    condition: Condition::Unknown,
                    doubt: 1.0
                };
                n
            ],
            shares: Vec::new(),
            spent_s: 0.0,
            spec,
        })
    }
    pub fn light(&self) -> &[u8] {
        &self.light
    }
    pub fn hold_s(&self) -> f64 {
        self.spec
            .sensors
            .iter()
            .map(|s| s.lag_s + 2.0 * s.every_s)
            .fold(self.spec.least_hold_s, f64::max)
    }
    pub fn read(&mut self, sensor: usize, value_a: f64, computed_a: &[f64]) {
        let s = &self.spec.sensors[sensor];
        if self.spec.items[self.at].sensors.contains(&(sensor as u16)) && computed_a[self.at] > 0.0
        {
            self.shares
                .push((value_a - s.idle_a) / s.factor / computed_a[self.at]);
        }
    }
    pub fn advance(&mut self) -> Step {
        self.spent_s += self.hold_s();
        let shares = std::mem::take(&mut self.shares);
        if !shares.is_empty() {
            let share = shares.iter().sum::<f64>() / shares.len() as f64;
            let condition = if share < 0.2 {
                Condition::Dead
            } else if share < 0.9 {
                Condition::Weak(share)
            } else {
                Condition::Good
            };
            self.judged[self.at] = Judged {
                condition,
                doubt: 1e-3,
            };
        }
        self.light[self.at] = 0;
        self.at += 1;
        if self.at == self.light.len() {
            self.at = 0;
            return Step::Done(End::Decided);
        }
        self.light[self.at] = 255;
        Step::Next
    }
    pub fn progress(&self) -> Progress {
        Progress {
            decided: self.at as u32,
            items: self.light.len() as u32,
            spent_s: self.spent_s,
            left_s: None,
        }
    }
    pub fn judged(&self) -> &[Judged] {
        &self.judged
    }
}

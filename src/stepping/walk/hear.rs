//! From what was tapped to what it says, and to words.

use super::super::ask::{Answer, NotAnAnswer};
use super::super::choice::Order;
use super::super::seen::Said;
use super::super::suspect::position;
use super::super::wired::tenths;
use super::{Current, Walk};

impl Walk {
    /// What an answer says of what was seen.
    pub(super) fn said(&self, current: &Current, answer: &Answer) -> Result<Said, NotAnAnswer> {
        let panel = |text: &str| {
            let found = text.parse().ok().and_then(|at| self.plan.panel_at(at));
            found.ok_or_else(|| {
                let text = text.escape_debug();
                NotAnAnswer(format!("There is no panel at \"{text}\"."))
            })
        };
        Ok(match (current.order, answer) {
            (_, Answer::Nothing) => Said::Nothing,
            (Order::Mark, Answer::Drawing { drawing }) => {
                let found = usize::try_from(*drawing)
                    .ok()
                    .and_then(|at| current.drawings.get(at));
                let none = || NotAnAnswer(format!("There is no drawing {drawing}."));
                Said::Exactly(found.ok_or_else(none)?.clone())
            }
            (Order::Mark, Answer::Panel { position }) => {
                Said::There(panel(position)?, current.drawings.clone())
            }
            (
                Order::Pixel(..),
                Answer::Point {
                    position,
                    x_mm,
                    y_mm,
                },
            ) => {
                let at = panel(position)?;
                let (left, top, width, height) = self.plan.panel_rect_mm(at);
                if !(0.0..=width).contains(x_mm) || !(0.0..=height).contains(y_mm) {
                    let text = format!("A panel is {width} mm by {height} mm.");
                    return Err(NotAnAnswer(text));
                }
                Said::Point(at, tenths(left + x_mm), tenths(top + y_mm))
            }
            (Order::Colour(_), Answer::Colour { colour }) => Said::Colour(*colour),
            _ => {
                let text = "That is no answer to the question that is open.";
                return Err(NotAnAnswer(text.to_owned()));
            }
        })
    }

    /// What was answered, for people.
    pub(super) fn words(&self, current: &Current, said: &Said) -> String {
        let lit = position(&self.plan, current.panel);
        let lit = match current.order {
            Order::Mark => format!("The slots of {lit}"),
            Order::Pixel(pixel, _) => format!("The slot of pixel {pixel} of {lit}"),
            Order::Colour(colour) => format!("The slots of {lit} for {}", colour.name()),
        };
        match said {
            Said::Exactly(sight) => {
                let at = sight.brightest();
                let at = at.first().map(|panel| position(&self.plan, *panel));
                let at = at.map_or_else(String::new, |at| at.to_string());
                format!("{lit} lit {at} as drawn.")
            }
            Said::There(panel, _) => {
                let at = position(&self.plan, *panel);
                format!("{lit} lit {at}, and not as drawn.")
            }
            Said::Nothing => format!("{lit} lit nothing."),
            Said::Point(panel, ..) => {
                format!("{lit} lit a pixel of {}.", position(&self.plan, *panel))
            }
            Said::Colour(colour) => format!("{lit} lit {}.", colour.name()),
        }
    }
}

//! The questions that can be asked about a panel.

use super::mistake::colours;
use super::wired::{Place, Sight};
use crate::floor::Floor;
use crate::floor::model::Colour;
use crate::pattern::{Light, Start, TestPattern};

/// What is lit of a panel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// All of it, its first pixels marked.
    Mark,
    /// One pixel, counted from 1, in one colour.
    Pixel(u32, Light),
    /// All of it in one colour.
    Colour(Light),
}

/// What answers tell apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Class {
    Nothing,
    Point(Place),
    Colour(&'static str),
}

/// What the daemon is to show.
pub(super) fn start(plan: &Floor, panel: usize, order: Order) -> Start {
    let position = plan.panels[panel].position.to_string();
    let (pattern, colour) = match order {
        Order::Mark => (TestPattern::Mark { position }, Light::White),
        Order::Pixel(pixel, colour) => (TestPattern::Pixel { position, pixel }, colour),
        Order::Colour(colour) => (TestPattern::Panel { position }, colour),
    };
    Start {
        colour,
        ..Start::new(pattern)
    }
}

/// All but [`Order::Mark`].
pub(super) fn orders(plan: &Floor, panel: usize) -> Vec<Order> {
    let kind = &plan.panel_kinds[plan.panels[panel].kind];
    let has = colours(&plan.pixel_kinds[kind.pixel_kind].slots);
    let lights = has.iter().map(|colour| match colour {
        Colour::Red => Light::Red,
        Colour::Green => Light::Green,
        Colour::Blue => Light::Blue,
        Colour::White => Light::White,
    });
    let lights: Vec<Light> = lights.collect();
    let count = u32::try_from(kind.pixels_mm.len()).unwrap_or(u32::MAX);
    let mut pixels = [1, count / 4 + 1, count / 2 + 1, count - count / 4, count];
    pixels.sort_unstable();
    let mut found = Vec::new();
    for (at, pixel) in pixels.iter().enumerate() {
        if at == 0 || pixels[at - 1] != *pixel {
            found.extend(lights.iter().map(|light| Order::Pixel(*pixel, *light)));
        }
    }
    if lights.len() > 1 {
        found.extend(lights.into_iter().map(Order::Colour));
    }
    found
}

/// What would be answered to a question by whoever sees this. Where several answers are as true,
/// one of them.
pub(super) fn class(order: Order, sight: &Sight) -> Class {
    let found = if let Order::Colour(_) = order {
        let colours = sight.colours();
        colours.first().map(|colour| Class::Colour(colour.name()))
    } else {
        sight.0.keys().next().map(|place| Class::Point(*place))
    };
    found.unwrap_or(Class::Nothing)
}

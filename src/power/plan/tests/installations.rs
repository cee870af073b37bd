//! Common installations, each worked out by hand from catalogue values.

use super::*;
use crate::floor::model::Colour;

/// A square floor of `side` × `side` panels of 500 mm, a run and a feed for every row.
fn square(side: u32, pixel: &str, panel: &str, supply: &str, fuse_a: f64) -> Floor {
    let last = char::from(b'A' + u8::try_from(side - 1).unwrap());
    let head = format!(
        "name = \"Worked\"\n[grid]\ncolumns = {side}\nrows = {side}\npanel_mm = [500, 500]\n\
         panel = \"square\"\n[pixel.kind]\n{pixel}\n[panel.square]\npixel = \"kind\"\n{panel}\n\
         [[node]]\nname = \"n\"\naddress = \"10.1.2.3\"\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 16\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\n{supply}\n"
    );
    let row = |row: u32| {
        format!(
            "[[run]]\nnode = \"n\"\nstart = \"0:{row}:0\"\npanels = [\"A{row}..{last}{row}\"]\n\
             [[feed]]\nname = \"row {row}\"\nsupply = \"s\"\nfuse_a = {fuse_a}\n\
             positions = [\"A{row}..{last}{row}\"]\n"
        )
    };
    let rows: String = (1..=side).map(row).collect();
    let text = head + &rows;
    crate::floor::parse("worked.toml", &text).unwrap()
}

fn load(loads: &[Load], case: Case) -> &Load {
    loads.iter().find(|load| load.case == case).unwrap()
}

/// Catalogue: 14.4 W/m, 60 LEDs/m, 12 V, 20 mA through each group of three and colour. 120 LEDs
/// are 2 m: 28.8 W, 2.4 A a panel; 64 panels 153.6 A, 1,843 W; at 208 V, efficiency 0.88 and power
/// factor 0.95 they take 10.6 A, and a supply of 200 A is loaded to 76.8 %.
#[test]
fn sixty_four_panels_of_two_metres() {
    let floor = square(
        8,
        "slots = \"GRB\"\nvolts = 12\nfull_ma = { red = 20, green = 20, blue = 20 }\nidle_ma = 0",
        "columns = 8\nrows = 5",
        "volts = 12\nrated_a = 200\nefficiency = 0.88\npower_factor = 0.95",
        25.0,
    );
    let plan = asked(
        &floor,
        &Asked {
            mains_volts: Some(Volts(208.0)),
            typical: vec![0.25],
        },
    );
    let panel = load(&plan.panel_kinds[0].loads, Case::FullWhite);
    near(panel.draw_a, 2.4, 1e-9);
    near(panel.draw_w, 28.8, 1e-9);
    let supply = load(&plan.supplies[0].loads, Case::FullWhite);
    near(supply.draw_a, 153.6, 1e-9);
    near(supply.draw_w, 1_843.2, 1e-9);
    near(supply.percent_of_rating.unwrap(), 76.8, 1e-9);
    near(plan.supplies[0].continuous_a, 160.0, 1e-9);
    let white = |circuits: &[CircuitPlan]| circuits[0].loads[0].clone();
    let at_208 = white(plan.circuits_at_other_volts.as_ref().unwrap());
    assert_eq!(format!("{:.1}", at_208.mains_a.unwrap()), "10.6");
    // 1,843.2 W ÷ (230 V · 0.88 · 0.95) = 9.586 A, ÷ 0.88 = 2,094.5 W, ÷ 0.95 = 2,204.8 VA.
    let at_230 = white(&plan.circuits);
    near(at_230.mains_a.unwrap(), 9.586, 5e-4);
    near(at_230.mains_w, 2_094.545, 5e-3);
    near(at_230.mains_va, 2_204.785, 5e-3);
    near(plan.floor.mains[0].mains_va, at_230.mains_va, 1e-9);
    // A row: 8 · 2.4 = 19.2 A, · 1.25 = 24 A: the next blade fuse of ISO 8820-3 has 25 A.
    let feed = &plan.feeds[0];
    near(feed.needed_fuse_a, 24.0, 1e-9);
    assert_eq!(feed.next_fuse_a, Some(25.0));
    // A quarter of it, and one colour of three.
    near(load(&feed.loads, Case::Typical(0.25)).draw_a, 4.8, 1e-9);
    near(
        load(&feed.loads, Case::Colour(Colour::Blue)).draw_a,
        6.4,
        1e-9,
    );
    // 28.8 W on a quarter of a square metre.
    near(plan.panel_kinds[0].heat_w_per_m2[0], 115.2, 1e-9);
    // 8 panels of 120 slots in a row: 960 slots, two universes; 8 rows.
    let data = plan.data;
    assert_eq!(
        (data.pixels, data.slots, data.universes_out, data.ports),
        (2_560, 7_680, 16, 8)
    );
}

/// Catalogue: 7.2 W/m, 30 LEDs/m, 12 V. 5 m are 150 LEDs, 50 groups of three: 36 W, 3 A; · 1.25 =
/// 3.75 A, so a fuse of 4 A (ISO 8820-3).
#[test]
fn five_metres_of_thirty_a_metre() {
    let floor = square(
        1,
        "slots = \"RGB\"\nvolts = 12\nfull_ma = { red = 20, green = 20, blue = 20 }\nidle_ma = 0",
        "columns = 10\nrows = 5\nsegments = [10, 10, 10, 10, 10]\n\
         strip = { ohm_per_m = 0.1, pitch_mm = 100 }",
        "volts = 12\nrated_a = 5\nefficiency = 0.85\npower_factor = 0.6",
        4.0,
    );
    let plan = plan(&floor);
    let white = &plan.feeds[0].loads[0];
    near(white.draw_a, 3.0, 1e-9);
    near(white.draw_w, 36.0, 1e-9);
    near(plan.feeds[0].needed_fuse_a, 3.75, 1e-9);
    assert_eq!(plan.feeds[0].next_fuse_a, Some(4.0));
    near(
        plan.supplies[0].loads[0].percent_of_rating.unwrap(),
        60.0,
        1e-9,
    );
    // 36 ÷ (230 · 0.85 · 0.6) = 0.3069 A.
    near(plan.circuits[0].loads[0].mains_a.unwrap(), 0.306_9, 5e-5);
    let amount = |what: &str| {
        let item = plan.bill.iter().find(|item| item.what == what);
        item.map(|item| item.amount).unwrap()
    };
    near(amount("strip, kind"), 5.0, 1e-9);
    near(amount("solder joints between segments"), 4.0, 1e-9);
    // Equal loads on a ladder: i·R·N(N+1)/2, R out and back of 100 mm, copper at 60 °C 15.72 % up;
    // the drivers keep their current down to the lowest voltage.
    let lost = 0.06 * 2.0 * 0.1 * 0.1 * 1.1572 * 50.0 * 51.0 / 2.0;
    near(
        plan.feeds[0].volts_behind.cases[0].lowest_v,
        12.0 - lost,
        1e-3,
    );
}

/// A floor at 5 V: 16 pixels of four colours a panel, 20 mA a colour and 1 mA idle (common
/// catalogue values of a 5 V pixel with white): 1.296 A, 6.48 W; 64 panels 82.944 A, 414.72 W.
#[test]
fn sixty_four_panels_of_four_colours_at_five_volts() {
    let floor = square(
        8,
        "slots = \"GRBW\"\nvolts = 5\n\
         full_ma = { red = 20, green = 20, blue = 20, white = 20 }\nidle_ma = 1",
        "columns = 4\nrows = 4",
        "volts = 5\nrated_a = 100\nefficiency = 0.85\npower_factor = 0.9",
        15.0,
    );
    let plan = plan(&floor);
    let panel = &plan.panel_kinds[0];
    near(panel.loads[0].draw_a, 1.296, 1e-9);
    near(panel.loads[0].draw_w, 6.48, 1e-9);
    near(panel.heat_w_per_m2[0], 25.92, 1e-9);
    near(
        load(&panel.loads, Case::Colour(Colour::White)).draw_a,
        0.336,
        1e-9,
    );
    near(load(&panel.loads, Case::Dark).draw_a, 0.016, 1e-9);
    near(plan.floor.loads[0].draw_a, 82.944, 1e-9);
    near(plan.floor.loads[0].draw_w, 414.72, 1e-9);
    // 414.72 ÷ (230 · 0.85 · 0.9) = 2.3570 A.
    near(plan.circuits[0].loads[0].mains_a.unwrap(), 2.357_0, 5e-5);
    // 8 · 1.296 = 10.368 A, · 1.25 = 12.96 A.
    near(plan.feeds[0].needed_fuse_a, 12.96, 1e-9);
    assert_eq!(plan.feeds[0].next_fuse_a, Some(15.0));
    // 8 panels of 64 slots fill one universe to its last slot.
    assert_eq!((plan.data.universes_out, plan.data.slots), (8, 4_096));
    // 82.9 % of the supply: more than 80 % for long, and that is said; the rows pass theirs.
    let overloads = plan
        .findings
        .iter()
        .filter(|f| f.danger == Danger::Overload);
    let told: Vec<&str> = overloads.map(|finding| finding.level).collect();
    assert_eq!(told, ["supply"]);
}

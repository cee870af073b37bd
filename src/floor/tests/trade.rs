//! Values that the trade and the standards name.

use super::super::Tables;
use super::super::model::Floor;
use super::BASE;
use super::sound::floor;
use crate::units::{Amps, Draw, Volts, Watts};

/// 64 panels of 120 LEDs on 12 V strip in groups of three: 40 pixels, 120 slots each.
fn sixty_four(runs: &str) -> Floor {
    floor(&format!(
        r#"name = "64"
        [grid]
        columns = 8
        rows = 8
        panel_mm = [500, 500]
        panel = "square"
        [pixel.rgb]
        slots = "RGB"
        volts = 12
        full_ma = {{ red = 20, green = 20, blue = 20 }}
        idle_ma = 0
        [panel.square]
        pixel = "rgb"
        columns = 8
        rows = 5
        [[circuit]]
        name = "c"
        volts = 230
        rated_a = 16
        [[supply]]
        name = "s"
        circuit = "c"
        volts = 12
        rated_a = 200
        efficiency = 0.9
        power_factor = 0.9
        [[feed]]
        name = "f"
        supply = "s"
        fuse_a = 200
        positions = ["A1..H8"]
        {runs}"#
    ))
}

#[test]
fn sixty_four_panels_fill_16_universes_when_none_straddles() {
    // Common practice, no source: 16 universes when no panel straddles.
    let run = |i: u16| {
        let (row, column) = (
            i / 2 + 1,
            if i.is_multiple_of(2) {
                ("A", "D")
            } else {
                ("E", "H")
            },
        );
        format!(
            "[[run]]\nstart = \"0:0:{i}\"\npanels = [\"{}{row}..{}{row}\"]\n",
            column.0, column.1
        )
    };
    let tables = Tables::compile(&sixty_four(&(0..16).map(run).collect::<String>()));
    assert_eq!(tables.universes.len(), 16);
    assert!(
        tables
            .outputs
            .iter()
            .all(|output| output.slots == 480 && output.parts.len() == 4)
    );
}

#[test]
fn sixty_four_panels_fill_15_universes_to_the_last_slot_when_packed() {
    // Common practice, no source: 7,680 slots packed into 15 universes full and nothing over.
    let tables = Tables::compile(&sixty_four(
        "[[run]]\nstart = \"0:0:0\"\npacking = \"packed\"\npanels = [\"A1..H8\"]",
    ));
    assert_eq!(tables.universes.len(), 15);
    assert!(
        tables
            .universes
            .iter()
            .all(|universe| universe.slots == 512)
    );
    let slots: u32 = tables
        .outputs
        .iter()
        .flat_map(|o| &o.parts)
        .map(|part| u32::from(part.len))
        .sum();
    assert_eq!(slots, 7_680);
    // The same in whole pixels: 170 of them, 510 slots, a universe; 2,560 pixels need 16.
    let whole = Tables::compile(&sixty_four(
        "[[run]]\nstart = \"0:0:0\"\npanels = [\"A1..H8\"]",
    ));
    assert_eq!(
        (
            whole.universes.len(),
            whole.universes[0].slots,
            whole.universes[15].slots
        ),
        (16, 510, 30)
    );
}

#[test]
fn sixty_four_panels_at_full_white_draw_what_the_catalogue_says() {
    let floor = sixty_four("[[run]]\nstart = \"0:0:0\"\npanels = [\"A1..H8\"]");
    let tables = Tables::compile(&floor);
    // Common catalogue value: 12 V strip of 60 LEDs/m, 14.4 W/m; 120 LEDs are 2 m: 28.8 W.
    let catalogue = Watts(14.4 * 2.0) / Volts(12.0);
    let panel = &tables.panels[0];
    assert_eq!(panel.full, Draw::from_ua(2_400_000));
    assert!((panel.full.amps() - catalogue).0.abs() < 1e-9);
    // Common practice, no source: 153.6 A together, 76.8 % of a 200 A supply.
    let all: Draw = tables
        .panels
        .iter()
        .map(|panel| panel.full + panel.idle)
        .sum();
    assert!((all.amps().0 - 153.6).abs() < 1e-9);
    assert!((all.amps().0 / floor.supplies[0].rated_a.0 - 0.768).abs() < 1e-12);
    assert_eq!(Draw::limit(Amps(200.0) * 0.768).amps(), all.amps());
}

#[test]
fn addresses_are_packed_as_the_protocol_library_packs_them() {
    // `artnet_protocol`'s own type is the oracle. It knows no Port-Address written net:sub:universe,
    // so its parts come from the specification: Net 7 bits, Sub-Net 4, Universe 4.
    for (text, net, low) in [
        ("0:0:1", 0_u8, 0x01_u8),
        ("0:1:2", 0, 0x12),
        ("5:15:0", 5, 0xF0),
        ("127:15:15", 127, 0xFF),
    ] {
        let run = format!(
            "start = \"{text}\"\npanels = [\"A2\"]\nsource = {{ start = \"{text}\", shared = true }}"
        );
        let floor = floor(&BASE.replace("start = \"0:0:2\"\npanels = [\"A2\"]", &run));
        let tables = Tables::compile(&floor);
        let number = floor.runs[1].start.number();
        assert!(
            tables
                .outputs
                .iter()
                .any(|output| output.port_address.number() == number)
        );
        let oracle = artnet_protocol::PortAddress::try_from(number).unwrap();
        let output = artnet_protocol::Output {
            port_address: oracle,
            data: vec![0; 2].into(),
            ..Default::default()
        };
        let bytes = artnet_protocol::ArtCommand::Output(output)
            .write_to_buffer()
            .unwrap();
        assert_eq!((bytes[15], bytes[14]), (net, low), "{text}");
    }
}

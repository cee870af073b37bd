//! Two panels on one fuse, each drawing 2.4 A in white: 120 slots of 20 mA.

use std::fmt::Write;

/// The text of its floor file: A1 and B1 on the runs that `runs` says, at one node.
pub fn pair(fuse_a: f64, runs: &[&str]) -> String {
    let mut text = format!(
        "name = \"pair\"\n[grid]\ncolumns = 2\nrows = 1\npanel_mm = [400, 400]\n\
         panel = \"square\"\n[delivery]\ncopies = 3\nlate_ms = 20\n\
         [cap]\nmargin = 1\nlet_up_s = 0.2\n\
         [pixel.p]\nslots = \"RGB\"\nvolts = 12\nidle_ma = 0\n\
         full_ma = {{ red = 20, green = 20, blue = 20 }}\n\
         [panel.square]\npixel = \"p\"\ncolumns = 8\nrows = 5\n\
         [[node]]\nname = \"n\"\naddress = \"10.9.1.1\"\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 16\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = 20\n\
         efficiency = 0.9\npower_factor = 0.9\n\
         [[feed]]\nname = \"f\"\nsupply = \"s\"\nfuse_a = {fuse_a}\npositions = [\"A1..B1\"]\n"
    );
    for run in runs {
        let _ = writeln!(text, "[[run]]\nnode = \"n\"\n{run}");
    }
    text
}

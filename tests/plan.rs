//! `litfloor plan` as a process: what is printed where, and with which exit status.

mod daemon;

use daemon::ended;
use serde_json::Value;

const DEMO: &str = "config/demo.toml";

fn plan(arguments: &[&str]) -> String {
    let (status, out, err) = ended(&[&["plan"], arguments].concat());
    assert_eq!((status, err.as_str()), (0, ""));
    out
}

fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&plan(&[arguments, &["--format", "json"]].concat())).unwrap()
}

#[test]
fn what_is_out_of_bounds_stands_first_and_lines_fit_a_terminal() {
    for floor in [DEMO, "config/large-floor.toml", "config/first-floor.toml"] {
        let text = plan(&[
            floor,
            "--mains",
            "208",
            "--typical",
            "0.5",
            "--typical",
            "0.2",
        ]);
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
        let place = |part: &str| {
            text.find(part)
                .unwrap_or_else(|| panic!("{part} in\n{text}"))
        };
        let first = if floor == "config/first-floor.toml" {
            "Nothing that was checked is out of bounds"
        } else {
            "OUT OF BOUNDS"
        };
        assert!(place(first) < place("\nData\n"));
        assert!(place("Bill of quantities") < place("Caution: mains voltage kills"));
        assert!(text.contains("Mains circuits at 208 V") && text.contains("NEC 210.20(A), 215.3"));
    }
}

/// 2,408 pixels of 3 · 18.5 + 0.7 mA (WS2811 datasheet: 18.5 mA an output) draw 135.33 A, 1,623.9 W
/// from 12 V; the supplies take that ÷ (0.88 · 0.95) in volt-amperes.
#[test]
fn the_demo_floor_was_worked_out_by_hand() {
    let told = json(&[DEMO, "--mains", "208"]);
    let white = |rows: &Value| rows.as_array().unwrap()[0].clone();
    let near = |found: &Value, expected: f64, within: f64| {
        let found = found.as_f64().unwrap();
        assert!(
            (found - expected).abs() < within,
            "{found} is not {expected}"
        );
    };
    let load = white(&told["floor"]["loads"]);
    assert_eq!(load["case"], "full white");
    near(&load["draw_a"], 135.329_6, 1e-6);
    near(&load["draw_w"], 1_623.955_2, 1e-5);
    let mains = white(&told["floor"]["mains"]);
    near(&mains["mains_va"], 1_623.955_2 / 0.88 / 0.95, 1e-5);
    near(&mains["mains_w"], 1_623.955_2 / 0.88, 1e-5);
    // The same power at another voltage.
    let amps = |circuits: &Value| {
        white(&white(circuits)["loads"])["mains_a"]
            .as_f64()
            .unwrap()
    };
    let ratio = amps(&told["circuits_at_other_volts"]) / amps(&told["circuits"]);
    assert!((ratio - 230.0 / 208.0).abs() < 1e-9, "{ratio}");
    assert_eq!(told["data"]["slots"], 7_224);
    assert_eq!(told["findings"][0]["danger"], "overload");
    assert!(told["findings"][0]["source"].is_string());
}

#[test]
fn a_spreadsheet_has_a_figure_and_its_rule_on_each_line() {
    let csv = plan(&[DEMO, "--format", "csv"]);
    let mut table = csv::Reader::from_reader(csv.as_bytes());
    let header: Vec<String> = table.headers().unwrap().iter().map(str::to_owned).collect();
    let expected = "section item load_case figure value unit rule source";
    assert_eq!(header.join(" "), expected);
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    assert!(
        rows.iter()
            .all(|row| !row[6].is_empty() && !row[7].is_empty())
    );
    assert_eq!(&rows[0][0], "out of bounds");
    let value = |section: &str, case: &str, figure: &str| {
        let mut found = rows
            .iter()
            .filter(|row| (&row[0], &row[2], &row[3]) == (section, case, figure));
        found.next().unwrap()[4].to_owned()
    };
    assert_eq!(value("floor", "full white", "current"), "135.3296");
    assert_eq!(value("data", "", "pixels"), "2408");
}

#[test]
fn a_page_for_paper_is_one_file_and_escapes_names() {
    let text = std::fs::read_to_string("config/first-floor.toml").unwrap();
    let (_directory, path) = daemon::file(
        &text
            .replace("\"First floor\"", "\"<b>Floor</b> & co\"")
            .replace("fuse_a = 7.5", "fuse_a = 40"),
    );
    let page = plan(&[&path, "--format", "html"]);
    assert!(page.starts_with("<!doctype html>") && page.trim_end().ends_with("</html>"));
    assert!(page.contains("&lt;b&gt;Floor&lt;/b&gt; &amp; co") && !page.contains("<b>"));
    for fetched in [
        "http:", "https:", "url(", "@import", "src=", "href=", "<script",
    ] {
        assert!(!page.contains(fetched), "{fetched}");
    }
    assert_eq!(
        page.matches("<table").count(),
        page.matches("</table>").count()
    );
    assert!(page.contains("Out of bounds") && page.contains("ISO 8820-3"));
}

#[test]
fn faults_and_wrong_usage_have_their_status() {
    let (status, out, err) = ended(&["plan", "no-such-floor.toml"]);
    assert_eq!((status, out.as_str()), (1, ""));
    assert!(err.contains("no-such-floor.toml"), "{err}");
    let sound = std::fs::read_to_string(DEMO).unwrap();
    let (_directory, path) = daemon::file(&sound.replace("fuse_a = 20", "fuse_amps = 20"));
    let (status, out, err) = ended(&["plan", &path]);
    assert_eq!((status, out.as_str()), (1, ""));
    assert!(err.contains("fuse_amps") && err.contains(&path), "{err}");
    for wrong in [
        &["plan"][..],
        &["plan", DEMO, "--mains", "0"],
        &["plan", DEMO, "--mains", "1e9"],
        &["plan", DEMO, "--typical", "35"],
        &["plan", DEMO, "--typical", "nan"],
    ] {
        let (status, out, err) = ended(wrong);
        assert_eq!((status, out.as_str()), (2, ""), "{wrong:?}");
        assert!(!err.is_empty());
    }
}

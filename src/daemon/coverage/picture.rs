//! The picture of what a drill asks for: bars for places, orders and keys, two necks, and a table of degrees.

use super::labels::{EIGHTHS, KEYS, figures_of};
use crate::plan::coverage::{Coverage, Places};
use std::fmt::Write;

const WIDTH: u32 = 720;
const ROW: u32 = 18;

/// A picture that grows downwards.
struct Picture {
    body: String,
    y: u32,
}

impl Picture {
    fn text(&mut self, x: u32, text: &str) {
        let text = text.replace('&', "&amp;").replace('<', "&lt;");
        let _ = writeln!(self.body, "<text x=\"{x}\" y=\"{}\">{text}</text>", self.y);
    }

    fn head(&mut self, text: &str) {
        self.y += ROW * 2;
        let _ = writeln!(self.body, "<g class=\"head\">");
        self.text(16, text);
        let _ = writeln!(self.body, "</g>");
        self.y += ROW;
    }

    /// A row of boxes, each as dark as its share of the most.
    fn row(&mut self, name: &str, cells: &[(String, u64)]) {
        self.text(16, name);
        let most = cells.iter().map(|(_, count)| *count).max().unwrap_or(0);
        let wide = ((WIDTH - 216) / cells.len().max(1) as u32).min(64);
        for (index, (word, count)) in (0u32..).zip(cells) {
            self.cell(200 + index * wide, wide, ROW, (*count, most));
            self.text(204 + index * wide, word);
        }
        self.y += ROW;
    }

    /// One box; what never occurs is framed.
    fn cell(&mut self, x: u32, wide: u32, high: u32, (count, most): (u64, u64)) {
        let share = if most == 0 {
            0.0
        } else {
            (count as f64 / most as f64).sqrt()
        };
        let opacity = (share * 0.75 * 100.0).round() / 100.0;
        let class = if count == 0 { "never" } else { "had" };
        let _ = writeln!(
            self.body,
            "<rect class=\"{class}\" x=\"{x}\" y=\"{}\" width=\"{}\" height=\"{}\" fill-opacity=\"{opacity}\"><title>{count}</title></rect>",
            self.y + 4 - high,
            wide - 2,
            high - 2
        );
    }

    /// A neck: strings down, frets to the right.
    fn neck(&mut self, name: &str, places: &Places, strings: u8) {
        let (visited, all) = places.visited();
        self.head(&format!(
            "{name}: {visited} of {all} places up to the twelfth fret"
        ));
        let most = places.asked.values().copied().max().unwrap_or(0);
        for string in 1..=strings {
            self.text(16, &format!("string {string}"));
            for fret in 0..=12u8 {
                let count = places.asked.get(&(string, fret)).copied().unwrap_or(0);
                self.cell(200 + u32::from(fret) * 38, 38, ROW, (count, most));
                self.text(204 + u32::from(fret) * 38, &fret.to_string());
            }
            self.y += ROW;
        }
    }
}

/// The picture as SVG.
pub fn picture(coverage: &Coverage, title: &str, strings: u8) -> String {
    let mut picture = Picture {
        body: String::new(),
        y: 0,
    };
    picture.head(title);
    picture.head("where figures begin");
    for (notes, starts) in &coverage.starts {
        let cell = |place: &&str| (place.to_string(), starts.get(*place).copied().unwrap_or(0));
        let cells: Vec<(String, u64)> = EIGHTHS.iter().map(cell).collect();
        picture.row(figures_of(*notes), &cells);
    }
    picture.head("orders");
    for (set, orders) in coverage
        .orders
        .iter()
        .filter(|(set, _)| set.split(' ').count() < 4)
    {
        let cells: Vec<(String, u64)> = orders
            .iter()
            .map(|(order, count)| (order.clone(), *count))
            .collect();
        picture.row(set, &cells);
    }
    picture.head("keys");
    let keys = (0u8..).zip(KEYS);
    let keys: Vec<(String, u64)> = keys
        .map(|(class, key)| {
            (
                key.to_string(),
                coverage.keys.get(&class).copied().unwrap_or(0),
            )
        })
        .collect();
    picture.row("tonic", &keys);
    picture.neck("roots", &coverage.roots, strings);
    picture.neck("thirds", &coverage.thirds, strings);
    picture.head("degrees by kind of chord");
    for (quality, degrees) in &coverage.degrees {
        let cells: Vec<(String, u64)> = (1..)
            .zip(degrees)
            .map(|(degree, count): (u8, &u64)| (degree.to_string(), *count))
            .collect();
        picture.row(quality, &cells);
    }
    let height = picture.y + ROW;
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{WIDTH}\" height=\"{height}\" viewBox=\"0 0 {WIDTH} {height}\">\n\
         <style>text {{ font: 12px sans-serif }} .head text {{ font-weight: bold }} .had {{ fill: #2266aa }} \
         .never {{ fill: none; stroke: #bb3322 }}</style>\n<rect width=\"{WIDTH}\" height=\"{height}\" fill=\"#ffffff\"/>\n{}</svg>\n",
        picture.body
    )
}

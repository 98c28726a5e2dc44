//! A page to print: what stands around a sheet and a handover.
//!
//! It prints in black on white on A4 and on Letter, and can be read on a dark screen. It fetches nothing and runs nothing.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::scale::Paper;
use crate::svg::MARK;

/// A size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaperSize {
    /// 210 mm by 297 mm.
    A4,
    /// 8 1/2 in by 11 in.
    Letter,
}

/// Sized so that one sheet with two tip cuts and a butt cut fills no more than a page of Letter, the shorter of the two.
const STYLE: &str = "\
:root { color-scheme: light dark; }
html { background: #fbfaf6; color: #20242a; }
a { color: #1a5381; }
@media (prefers-color-scheme: dark) { html { background: #17191c; color: #e9e6de; } a { color: #8cc4f0; } }
body { font: 8.4pt/1.22 ui-serif, Georgia, 'DejaVu Serif', serif; max-width: 190mm; margin: 6mm auto; padding: 0 4mm; }
h1 { font-size: 14pt; margin: 0; }
h2 { font-size: 10pt; margin: 1.8mm 0 0.5mm; border-bottom: 0.3mm solid; }
p { margin: 0.6mm 0; }
ul { margin: 0.6mm 0; padding-left: 5mm; font-size: 7.8pt; }
.top { display: flex; justify-content: space-between; gap: 6mm; align-items: baseline; }
.line { display: flex; flex-wrap: wrap; gap: 0 6mm; }
table { border-collapse: collapse; width: 100%; break-inside: avoid; }
th, td { text-align: left; vertical-align: top; padding: 0.2mm 2.5mm 0.2mm 0; font-variant-numeric: tabular-nums; }
tbody th { font-weight: normal; }
thead th { border-bottom: 0.2mm solid; font-weight: normal; font-style: italic; }
.step { border: 0.3mm solid; padding: 0.6mm 2mm; margin: 1mm 0; break-inside: avoid; }
.step p { margin: 0.2mm 0; }
.write { display: flex; flex-wrap: wrap; gap: 0 6mm; margin-top: 0.8mm; }
.write span { white-space: nowrap; }
.gap { display: inline-block; width: 24mm; border-bottom: 0.25mm solid; height: 1.1em; }
.wide { width: 60mm; }
.care { border: 0.5mm solid; padding: 1mm 2mm; margin-top: 2mm; break-inside: avoid; }
.fault { border-left: 1.2mm double; padding-left: 2mm; }
svg { width: 80%; height: auto; display: block; margin: 0 auto; }
.bend svg { width: 72%; }
.in-hand { display: none; }
@media screen and (max-width: 34rem) { body { font-size: 11pt; } ul { font-size: inherit; } .on-paper { display: none; } .in-hand { display: block; } .in-hand svg { width: 100%; } }
.back { font-size: 11pt; margin-bottom: 4mm; }
@media print { .back { display: none; } html { background: none; color: #000; } body { margin: 0; padding: 0; max-width: none; } :root { color-scheme: light; } }
";

/// Where a page goes: into a file of its own, or to a browser that is served.
#[derive(Debug, Clone, Copy)]
pub enum Frame<'a> {
    /// A file, which holds all that it needs, for paper of this size.
    File(Option<PaperSize>),
    /// A page that is served, whose policy forbids a style that stands in it.
    Served {
        /// Where [`paper_style`] is served.
        style: &'a str,
        /// Where it leads back to, which is not printed.
        back: &'a str,
        /// What it leads back to, in words.
        words: &'a str,
    },
}

/// What a page is headed with: what its record and the shop say by themselves.
#[derive(Debug, Clone, Copy, Default)]
pub struct Heading<'a> {
    /// The record's id.
    pub record: &'a str,
    /// Its title.
    pub title: &'a str,
    /// The name of the shop.
    pub shop: Option<&'a str>,
    /// Who it is for.
    pub customer: Option<&'a str>,
    /// What it is fished with.
    pub purpose: Option<&'a str>,
    /// The name of its blank, as it is written.
    pub blank: Option<&'a str>,
    /// When it was begun.
    pub date: Option<&'a str>,
}

/// The style of pages that are served.
pub fn paper_style() -> String {
    style("")
}

fn style(size: &str) -> String {
    format!("@page {{ {size}margin: 9mm 12mm; }}\n{STYLE}{}", crate::inline::style())
}

/// Sets a page.
pub(crate) fn page(title: &str, frame: Frame, body: &Markup) -> String {
    let size = match frame {
        Frame::File(Some(PaperSize::A4)) => "size: A4; ",
        Frame::File(Some(PaperSize::Letter)) => "size: letter; ",
        Frame::File(None) | Frame::Served { .. } => "",
    };
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                @match frame {
                    Frame::File(_) => style { (PreEscaped(style(size))) },
                    Frame::Served { style, .. } => link rel="stylesheet" href=(style);,
                }
            }
            body {
                @if let Frame::Served { back, words, .. } = frame {
                    nav class="back" aria-label="the book" { a href=(back) { (words) } }
                }
                main { (body) }
            }
        }
    };
    format!("{MARK}\n{}\n", page.into_string())
}

/// Whose a rod is and what it is for, each with a word before it where it is known.
pub(crate) fn whose(beside: &[(&str, Option<&str>)]) -> Markup {
    html! {
        p class="line" {
            @for (word, value) in beside {
                @if let Some(value) = value { span { (word) " " b { (value) } } }
            }
        }
    }
}

/// A drawing as part of a page, which holds its style: one for paper, and one for a screen that fits a hand.
pub(crate) fn drawings(draw: impl Fn(Paper) -> String) -> Markup {
    let drawing = |paper| PreEscaped(crate::inline(&draw(paper)));
    html! {
        div class="on-paper" { (drawing(Paper::Wide)) }
        div class="in-hand" { (drawing(Paper::Narrow)) }
    }
}

/// A label with a line to write on.
pub(crate) fn gap(label: &str) -> Markup {
    html! { span { (label) " " span class="gap" {} } }
}

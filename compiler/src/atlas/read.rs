//! The text of a drawing, one fact a line.
//!
//! ```text
//! view side "Left side"           begins a view; everything below it belongs to it
//! size 1000 740                   drawing units, y downwards
//! shows left                      which side of the dog paired zones are on
//! mirror 300 left                 only the half right of x = 300 is drawn; it is the dog's left, its twin the right
//! scale 2.4                       units of this view for one of the side view (1 unless said)
//! flat                            a map and no outline: no coat is drawn round it
//! axis x nose=56 stop=152 …       knots of the warp, strictly rising
//! build long x stop=140 …         where a build moves them; knots not named stay
//! girth y brisket from withers    a heavy dog's knot stands further from the other, a light one's nearer
//! weighs square 40.5 kg at 691 mm what a dog of a build weighs at a height
//! allometry 2.19                  and how weight goes with height: W ~ H^2.19
//! girths 0.85 to 1.2              how thin and how heavy a dog it follows, over what the build has at its height
//! weights 0.35 to 3               how little and how much a dog can weigh, over what its build weighs at its height
//! limb forearm wrist …            zones that go round a free leg, of which a side view shows half
//! flap ear-back …                 zones of a flap, seen from one of its two sides
//!
//! layer body                      a planar map
//! layer ear ears=drop lift=0.3    one of several, over the layers before it; hair lies down but for this share of it
//! without ear-fringe              leaves that this variant does not have
//! point withers 416 195
//! outline face: nose chin! lip    a stroke on the outline; ! is a corner
//! seam saddle: a b c              a stroke between two zones: a border
//! fold cheek-under: a b c         a stroke where one part lies before another: not a border
//! mark mouth: a b                 a line that bounds nothing
//! eye 170 90 6.5                  a dark disc
//! zone back at 530 250 [left|right] [sex=dog]
//! blank nose at 70 122            a face without coat
//! ghost forearm wrist by 36 -5 [turn 4 at 330 500]    the far leg: the near one, moved and turned
//! attach ear-base cheek           a border between two layers, or one that no view can show
//!
//! flow 530 250 40 2               the hair lies this way here
//! whorl chest-whorl at 480 380    a mark of the basics where it turns round
//! meeting throat-line: a b c      a mark of the basics along which it meets
//! spot dewclaw at 352 610         any other mark of the basics
//! spot tail-tip-end at 936 90 tail=sabre    on such a dog only
//! ```

use super::Fault;
use super::drawing::{Axis, Drawing, Facing, Ghost, Kind, Label, Layer, Line, Stroke, Turn, View};
use super::mirror::mirror;
use crate::names::trade::Sex;
use grammar::tree::Side;
use kurbo::{Point, Vec2};
use smol_str::SmolStr;
use std::collections::BTreeMap;

/// Reads the texts.
pub(super) fn drawing(texts: &[(&str, &str)]) -> (Drawing, Vec<Fault>) {
    let mut reader = Reader { drawing: Drawing::default(), faults: Vec::new(), file: String::new(), line: 0 };
    for (file, text) in texts {
        (*file).clone_into(&mut reader.file);
        for (number, line) in text.lines().enumerate() {
            reader.line = number + 1;
            if let Err(words) = reader.line(line) {
                reader.fault(words);
            }
        }
    }
    for view in &mut reader.drawing.views {
        mirror(view);
    }
    (reader.drawing, reader.faults)
}

struct Reader {
    drawing: Drawing,
    faults: Vec<Fault>,
    file: String,
    line: usize,
}

impl Reader {
    fn fault(&mut self, words: String) {
        self.faults.push(Fault { file: self.file.clone(), line: self.line, words });
    }

    fn line(&mut self, line: &str) -> Result<(), String> {
        let line = line.split_once("--").map_or(line, |(before, _)| before).trim();
        let Some((word, rest)) = line.split_once(' ').or_else(|| (!line.is_empty()).then_some((line, ""))) else {
            return Ok(());
        };
        let (rest, number, file) = (rest.trim(), self.line, self.file.clone());
        if word == "view" {
            let (name, title) = rest.split_once(' ').ok_or("write `view NAME \"Title\"`")?;
            self.drawing.views.push(View {
                name: name.into(),
                title: title.trim().trim_matches('"').to_owned(),
                file,
                size: (0.0, 0.0),
                facing: Facing::One(Side::Left),
                scale: 1.0,
                flat: false,
                x: Axis::default(),
                y: Axis::default(),
                points: BTreeMap::new(),
                layers: Vec::new(),
                attach: Vec::new(),
                flow: Vec::new(),
                turns: Vec::new(),
            });
            return Ok(());
        }
        if self.of_all(word, rest)? {
            return Ok(());
        }
        let view = self.drawing.views.last_mut().ok_or("a drawing begins with `view NAME \"Title\"`")?;
        if self.file != view.file {
            return Err("a file begins with `view NAME \"Title\"`".to_owned());
        }
        match word {
            "layer" => layer(view, rest),
            "size" => {
                let [w, h] = numbers(rest)?;
                view.size = (w, h);
                Ok(())
            }
            "shows" => {
                view.facing = Facing::One(side(rest)?);
                Ok(())
            }
            "mirror" => {
                let (x, of) = rest.split_once(' ').ok_or("write `mirror X left`")?;
                view.facing = Facing::Both(numeral(x)?, side(of.trim())?);
                Ok(())
            }
            "scale" => {
                view.scale = numeral(rest)?;
                Ok(())
            }
            "flat" => {
                view.flat = true;
                Ok(())
            }
            "axis" => axis(view, rest),
            "build" => build(view, rest),
            "girth" => girth(view, rest),
            "point" => {
                let (name, place) = rest.split_once(' ').ok_or("write `point NAME X Y`")?;
                let [x, y] = numbers(place)?;
                match view.points.insert(name.into(), Point::new(x, y)) {
                    None => Ok(()),
                    Some(_) => Err(format!("two points are called {name}")),
                }
            }
            "flow" => {
                let [x, y, dx, dy] = numbers(rest)?;
                view.flow.push((Point::new(x, y), Vec2::new(dx, dy)));
                Ok(())
            }
            "attach" => {
                let (a, b) = rest.split_once(' ').ok_or("write `attach ZONE ZONE`")?;
                view.attach.push((a.into(), b.trim().into(), number));
                Ok(())
            }
            "whorl" | "spot" => {
                let (mark, place) = rest.split_once(" at ").ok_or("write `spot MARK at X Y`")?;
                let (place, variant) = match place.rsplit_once(' ') {
                    Some((place, only)) if only.contains('=') => (place, only.split_once('=')),
                    _ => (place, None),
                };
                let variant = variant.map(|(kind, value)| (kind.into(), value.into()));
                let at = point(place)?;
                let line = if word == "whorl" { Line::Whorl(at) } else { Line::Spot(at) };
                let side = side_at(view, at);
                view.turns.push(Turn { mark: mark.trim().into(), line, side, variant });
                Ok(())
            }
            "meeting" => {
                let (mark, through) = rest.split_once(':').ok_or("write `meeting MARK: POINT POINT`")?;
                let through: Vec<SmolStr> = through.split_whitespace().map(SmolStr::from).collect();
                let first = through.first().and_then(|p| view.points.get(p)).copied().unwrap_or_default();
                let side = side_at(view, first);
                let line = Line::Meeting(through);
                view.turns.push(Turn { mark: mark.trim().into(), line, side, variant: None });
                Ok(())
            }
            _ => in_layer(view, word, rest, number),
        }
    }
}

impl Reader {
    /// Lines that concern every view; whether this is one.
    fn of_all(&mut self, word: &str, rest: &str) -> Result<bool, String> {
        let zones = || rest.split_whitespace().map(SmolStr::from);
        match word {
            "limb" => self.drawing.limbs.extend(zones()),
            "flap" => self.drawing.flaps.extend(zones()),
            "allometry" => self.drawing.allometry = numeral(rest)?,
            "girths" | "weights" => {
                let ends =
                    rest.split_once(" to ").map(|(least, most)| Ok::<_, String>((numeral(least)?, numeral(most)?)));
                let ends = ends.transpose()?.filter(|(least, most)| least <= most);
                let ends = Some(ends.ok_or_else(|| format!("write `{word} 0.85 to 1.2`"))?);
                if word == "girths" { self.drawing.girths = ends } else { self.drawing.weights = ends }
            }
            "weighs" => {
                let words: Vec<&str> = rest.split_whitespace().collect();
                let [build, kg, "kg", "at", mm, "mm"] = words.as_slice() else {
                    return Err("write `weighs BUILD 40.5 kg at 691 mm`".to_owned());
                };
                self.drawing.weighs.push(((*build).into(), numeral(kg)?, numeral(mm)?));
            }
            _ => return Ok(false),
        }
        Ok(true)
    }
}

fn girth(view: &mut View, rest: &str) -> Result<(), String> {
    let words: Vec<&str> = rest.split_whitespace().collect();
    let [axis, knot, "from", still] = words.as_slice() else {
        return Err("write `girth y KNOT from KNOT`".to_owned());
    };
    let axis = axis_of(view, axis)?;
    match [knot, still].iter().find(|n| !axis.knots.iter().any(|(k, _)| k == **n)) {
        Some(unknown) => Err(format!("the axis has no knot {unknown}")),
        None => {
            axis.girth.push(((*knot).into(), (*still).into()));
            Ok(())
        }
    }
}

fn in_layer(view: &mut View, word: &str, rest: &str, line: usize) -> Result<(), String> {
    let facing = view.facing;
    let layer = view.layers.last_mut().ok_or_else(|| format!("`{word}` is not known before `layer`"))?;
    match word {
        "outline" | "seam" | "fold" | "mark" => {
            let (name, through) = rest.split_once(':').ok_or("write `seam NAME: POINT POINT`")?;
            let kind = match word {
                "outline" => Kind::Outline,
                "seam" => Kind::Seam,
                "fold" => Kind::Fold,
                _ => Kind::Mark,
            };
            let through: Vec<(SmolStr, bool)> = through
                .split_whitespace()
                .map(|p| p.strip_suffix('!').map_or((p.into(), false), |corner| (corner.into(), true)))
                .collect();
            if through.len() < 2 {
                return Err(format!("stroke {name} needs two points"));
            }
            layer.strokes.push(Stroke { name: name.trim().into(), kind, through, line });
            Ok(())
        }
        "zone" | "blank" => {
            let (name, place) = rest.split_once(" at ").ok_or("write `zone NAME at X Y`")?;
            let mut words = place.split_whitespace();
            let at = Point::new(numeral(words.next().unwrap_or_default())?, numeral(words.next().unwrap_or_default())?);
            let mut label = Label {
                name: name.trim().into(),
                at,
                side: side_of(facing, at),
                sex: None,
                blank: word == "blank",
                line,
            };
            for word in words {
                match word {
                    "sex=dog" => label.sex = Some(Sex::Dog),
                    "sex=bitch" => label.sex = Some(Sex::Bitch),
                    other => label.side = side(other)?,
                }
            }
            layer.labels.push(label);
            Ok(())
        }
        "without" => {
            layer.without.extend(rest.split_whitespace().map(SmolStr::from));
            Ok(())
        }
        "eye" => {
            let [x, y, r] = numbers(rest)?;
            layer.eyes.push((Point::new(x, y), r));
            Ok(())
        }
        "ghost" => {
            let (zones, how) = rest.split_once(" by ").ok_or("write `ghost ZONES by DX DY`")?;
            let (by, turn) = how.split_once(" turn ").map_or((how, None), |(by, turn)| (by, Some(turn)));
            let by = point(by)?.to_vec2();
            let turn = match turn.map(|t| t.split_once(" at ").ok_or("write `turn DEGREES at X Y`")).transpose()? {
                Some((degrees, about)) => Some((numeral(degrees)?, point(about)?)),
                None => None,
            };
            let zones = zones.split_whitespace().map(SmolStr::from).collect();
            layer.ghosts.push(Ghost { zones, by, turn });
            Ok(())
        }
        _ => Err(format!("`{word}` is not known here")),
    }
}

fn layer(view: &mut View, rest: &str) -> Result<(), String> {
    let mut words = rest.split_whitespace();
    let name = words.next().ok_or("write `layer NAME`")?;
    let mut layer = Layer {
        name: name.into(),
        variant: None,
        without: Vec::new(),
        lift: 1.0,
        strokes: Vec::new(),
        labels: Vec::new(),
        eyes: Vec::new(),
        ghosts: Vec::new(),
    };
    for word in words {
        let (key, value) = word.split_once('=').ok_or_else(|| format!("`{word}`: write `ears=drop` or `lift=0.3`"))?;
        if key == "lift" {
            layer.lift = numeral(value)?;
        } else {
            layer.variant = Some((key.into(), value.into()));
        }
    }
    view.layers.push(layer);
    Ok(())
}

fn axis(view: &mut View, rest: &str) -> Result<(), String> {
    let (axis, knots) = rest.split_once(' ').ok_or("write `axis x NAME=PLACE …`")?;
    let knots = pairs(knots)?;
    if knots.len() < 2 || !knots.is_sorted_by(|a, b| a.1 < b.1) {
        return Err("two knots or more, strictly rising".to_owned());
    }
    axis_of(view, axis)?.knots = knots;
    Ok(())
}

fn build(view: &mut View, rest: &str) -> Result<(), String> {
    let mut words = rest.splitn(3, ' ');
    let (Some(name), Some(axis), Some(moved)) = (words.next(), words.next(), words.next()) else {
        return Err("write `build long x NAME=PLACE …`".to_owned());
    };
    let moved = pairs(moved)?;
    let axis = axis_of(view, axis)?;
    if let Some((unknown, _)) = moved.iter().find(|(n, _)| !axis.knots.iter().any(|(k, _)| k == n)) {
        return Err(format!("the axis has no knot {unknown}"));
    }
    axis.builds.insert(name.into(), moved);
    Ok(())
}

fn axis_of<'v>(view: &'v mut View, name: &str) -> Result<&'v mut Axis, String> {
    match name {
        "x" => Ok(&mut view.x),
        "y" => Ok(&mut view.y),
        _ => Err("an axis is x or y".to_owned()),
    }
}

fn pairs(text: &str) -> Result<Vec<(SmolStr, f64)>, String> {
    text.split_whitespace()
        .map(|pair| {
            let (name, place) = pair.split_once('=').ok_or_else(|| format!("`{pair}`: write `NAME=PLACE`"))?;
            Ok((name.into(), numeral(place)?))
        })
        .collect()
}

fn point(text: &str) -> Result<Point, String> {
    let [x, y] = numbers(text)?;
    Ok(Point::new(x, y))
}

fn numbers<const N: usize>(text: &str) -> Result<[f64; N], String> {
    let all: Vec<f64> = text.split_whitespace().map(numeral).collect::<Result<_, _>>()?;
    let found = all.len();
    all.try_into().map_err(|_| format!("{N} numbers are due here, and {found} stand here"))
}

fn numeral(text: &str) -> Result<f64, String> {
    text.trim().parse().ok().filter(|n: &f64| n.is_finite()).ok_or_else(|| format!("`{text}` is no number"))
}

fn side(word: &str) -> Result<Side, String> {
    match word {
        "left" => Ok(Side::Left),
        "right" => Ok(Side::Right),
        _ => Err(format!("`{word}`: left or right")),
    }
}

fn side_at(view: &View, at: Point) -> Side {
    side_of(view.facing, at)
}

/// The side of the dog at a place of a view.
fn side_of(facing: Facing, at: Point) -> Side {
    match facing {
        Facing::One(side) => side,
        Facing::Both(middle, side) if at.x >= middle => side,
        Facing::Both(_, side) => side.other(),
    }
}

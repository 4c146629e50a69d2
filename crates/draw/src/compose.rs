//! From blocks in their order to a sheet: heights, routes, labels.

use crate::{
    block::{Link, Net, Thing},
    body::{SMALL, STEP},
    channel::{self, Route, Run},
    label::{Labels, Room, Rooms, TAG, Tag},
    layer::Layers,
    place::{self, End, Node, Placing},
    scene::{At, Class, Mark, Scene, Shape, Words, width_of},
};
use keyon_circuit::{ids::PointId, model::Circuit};

/// Between tracks, and around them.
const TRACK: f64 = 9.0;
const PAD: f64 = 9.0;
/// Around the drawing.
const MARGIN: f64 = 20.0;
/// The narrowest sheet: a line of some fifty letters stands below it.
const NARROWEST: f64 = 340.0;

/// A link on the sheet.
#[derive(Clone, Debug)]
pub struct LinkPath {
    #[allow(missing_docs)]
    pub link: Link,
    /// Its corners, from one end to the other.
    pub points: Vec<At>,
    /// What is said of it, at its upper and at its lower end.
    pub labels: Vec<Words>,
    /// Signs that stand on it.
    pub(crate) tags: Vec<(At, Tag)>,
    /// Where that stands: at its upper and at its lower end.
    places: [Option<Place>; 2],
    /// Which of the link's ends is the lower one.
    pub(crate) lower: usize,
}

/// Where a label stands, before its text is known.
#[derive(Clone, Copy, Debug)]
struct Place {
    /// Where the text begins, or where it ends below an edge.
    at: At,
    /// The text hangs below the edge.
    hangs: bool,
    /// Where the first tag has its middle: those of one channel stand in a row.
    tags: At,
}

/// A circuit in its places.
#[derive(Clone, Debug)]
pub struct Layout {
    #[allow(missing_docs)]
    pub size: At,
    #[allow(missing_docs)]
    pub links: Vec<LinkPath>,
    /// Each thing that is drawn, with its box: left, top, right, bottom.
    pub things: Vec<(Thing, [f64; 4])>,
    symbols: Vec<Mark>,
    bodies: Vec<[f64; 4]>,
}

/// Lays a circuit out. `wanted` says which things are drawn.
pub fn lay_out(circuit: &Circuit, wanted: &dyn Fn(Thing) -> bool, label: Labels<'_>) -> Layout {
    let room = |link: &Link, end: usize, lower: bool| label(link, end, lower).map(|said| said.room());
    let mut layout = lay_out_with_room(circuit, wanted, &room);
    layout.say(label);
    layout
}

/// Lays a circuit out with room for labels that are said later, by [`Layout::say`]: so the drawing stands still whatever
/// they say.
pub fn lay_out_with_room(circuit: &Circuit, wanted: &dyn Fn(Thing) -> bool, room: Rooms<'_>) -> Layout {
    let net = Net::of(circuit, wanted);
    let relays = |block: usize| match net.blocks[block].thing {
        Thing::Device(d) => circuit.is_relay(d),
        _ => false,
    };
    let layers = Layers::of(&net, &relays);
    let placing = place::place(circuit, &net, &layers);
    let channel = |link: usize, end: usize| {
        let side = layers.sides[link][end];
        layers.of[net.links[link].ends[end].0] + usize::from(side == crate::layer::Side::Bottom)
    };
    // As `place` has it: the end of the later channel is the lower one.
    let lower: Vec<usize> =
        (0..net.links.len()).map(|i| usize::from(channel(i, 0) <= channel(i, 1))).collect();
    let rooms = net.links.iter().zip(&lower);
    let rooms = rooms.map(|(link, &lower)| [room(link, 1 - lower, false), room(link, lower, true)]);
    let rooms = rooms.collect();
    Composer::new(&net, &layers, &placing, rooms).compose(&lower)
}

struct Composer<'a> {
    net: &'a Net,
    layers: &'a Layers,
    placing: &'a Placing,
    /// For the labels of each link: at the upper end, at the lower.
    rooms: Vec<[Option<Room>; 2]>,
    /// Routes and number of tracks of each channel.
    routes: Vec<(Vec<Route>, usize)>,
    /// Top of each layer, and of each channel.
    layer_top: Vec<f64>,
    layer_bottom: Vec<f64>,
    /// Room for labels above and below the tracks of each channel.
    zones: Vec<[Room; 2]>,
}

impl<'a> Composer<'a> {
    fn new(net: &'a Net, layers: &'a Layers, placing: &'a Placing, rooms: Vec<[Option<Room>; 2]>) -> Self {
        let routes = placing
            .pieces
            .iter()
            .map(|pieces| {
                let run = |p: &place::Piece| Run { ends: p.ends.map(|e| (placing.end_x(&e), e.upper)) };
                channel::route(&pieces.iter().map(run).collect::<Vec<_>>())
            })
            .collect();
        let mut this = Self {
            net,
            layers,
            placing,
            rooms,
            routes,
            layer_top: Vec::new(),
            layer_bottom: Vec::new(),
            zones: Vec::new(),
        };
        this.heights();
        this
    }

    /// Where each link's labels stand: channel and end of its upper and of its lower end.
    fn label_ends(&self) -> Vec<[Option<(usize, End)>; 2]> {
        let mut at = vec![[None; 2]; self.net.links.len()];
        for (channel, pieces) in self.placing.pieces.iter().enumerate() {
            for piece in pieces {
                at[piece.link][0].get_or_insert((channel, piece.ends[0]));
                at[piece.link][1] = Some((channel, piece.ends[1]));
            }
        }
        at
    }

    fn heights(&mut self) {
        let channels = self.placing.pieces.len();
        let mut zones = vec![[Room::default(); 2]; channels];
        let ends = self.label_ends();
        for (end, room) in ends.iter().flatten().zip(self.rooms.iter().flatten()) {
            if let (Some((channel, end)), Some(room)) = (end, room) {
                zones[*channel][usize::from(!end.upper)].grow(*room);
            }
        }
        let mut y = MARGIN;
        for layer in 0..self.layers.count {
            y += self.channel_height(layer, &zones);
            self.layer_top.push(y);
            let height = self.placing.layers[layer].iter().map(|&n| match self.placing.nodes[n] {
                Node::Block(b) => self.placing.bodies[b].height,
                Node::Pass(_) => 0.0,
            });
            y += height.fold(0.0, f64::max);
            self.layer_bottom.push(y);
        }
        y += self.channel_height(self.layers.count, &zones);
        self.layer_top.push(y);
        self.zones = zones;
    }

    fn channel_height(&self, channel: usize, zones: &[[Room; 2]]) -> f64 {
        if self.placing.pieces.get(channel).is_none_or(Vec::is_empty) {
            return 0.0;
        }
        let tracks = self.routes[channel].1;
        let aside = if self.routes[channel].0.iter().any(|r| r.aside) { 6.0 } else { 0.0 };
        zones[channel][0].height()
            + zones[channel][1].height()
            + aside
            + 2.0 * PAD
            + tracks.saturating_sub(1) as f64 * TRACK
    }

    fn x(&self, end: &End) -> f64 {
        MARGIN + f64::from(self.placing.end_x(end)) * STEP
    }

    /// Where an end of a piece is up or down: the edge of its block, or of the layer that it passes.
    fn y(&self, channel: usize, end: &End) -> f64 {
        match self.placing.nodes[end.node] {
            Node::Block(b) if end.upper => self.layer_top[channel - 1] + self.placing.bodies[b].height,
            _ if end.upper => self.layer_bottom[channel - 1],
            _ => self.layer_top[channel],
        }
    }

    fn compose(self, lower: &[usize]) -> Layout {
        let bare = |(link, &lower): (&Link, &usize)| LinkPath {
            link: *link,
            points: Vec::new(),
            labels: Vec::new(),
            tags: Vec::new(),
            places: [None; 2],
            lower,
        };
        let mut links: Vec<LinkPath> = self.net.links.iter().zip(lower).map(bare).collect();
        for (channel, pieces) in self.placing.pieces.iter().enumerate() {
            let begins = if channel == 0 { MARGIN } else { self.layer_bottom[channel - 1] };
            let aside_y = begins + self.zones[channel][0].height() + PAD / 2.0;
            let any_aside = self.routes[channel].0.iter().any(|r| r.aside);
            let tracks_y = begins + self.zones[channel][0].height() + PAD + if any_aside { 6.0 } else { 0.0 };
            for (piece, route) in pieces.iter().zip(&self.routes[channel].0) {
                let [a, b] = piece.ends.map(|end| (self.x(&end), self.y(channel, &end), end.upper));
                let points = &mut links[piece.link].points;
                push(points, (a.0, a.1));
                if let Some(track) = route.track {
                    let y = tracks_y + track as f64 * TRACK;
                    for (index, (x, _, upper)) in [a, b].into_iter().enumerate() {
                        let stepped = route.aside && upper;
                        let beside = if stepped { x + STEP / 2.0 } else { x };
                        let mut turn = vec![(beside, y)];
                        if stepped {
                            turn = vec![(x, aside_y), (beside, aside_y), (beside, y)];
                        }
                        if index == 1 {
                            turn.reverse();
                        }
                        turn.into_iter().for_each(|p| push(points, p));
                    }
                }
                push(points, (b.0, b.1));
            }
        }
        for (index, ends) in self.label_ends().into_iter().enumerate() {
            for (place, end) in links[index].places.iter_mut().zip(ends) {
                let Some((channel, end)) = end else { continue };
                let x = self.x(&end);
                let zone = &self.zones[channel][usize::from(!end.upper)];
                let aside = zone.text_height() + TAG / 2.0;
                *place = Some(if end.upper {
                    let edge = self.layer_bottom[channel - 1];
                    Place { at: (x - 3.0, edge + 4.0), hangs: true, tags: (x, edge + aside) }
                } else {
                    let edge = self.layer_top[channel];
                    Place { at: (x - 3.0, edge - 4.0), hangs: false, tags: (x, edge - aside) }
                });
            }
        }
        self.sheet(links)
    }

    fn sheet(&self, links: Vec<LinkPath>) -> Layout {
        let mut scene = Scene::default();
        let mut things = Vec::new();
        let mut right: f64 = 0.0;
        for (layer, nodes) in self.placing.layers.iter().enumerate() {
            for &node in nodes {
                let Node::Block(block) = self.placing.nodes[node] else { continue };
                let body = &self.placing.bodies[block];
                let at = (MARGIN + f64::from(self.placing.x[node]) * STEP, self.layer_top[layer]);
                scene.add(at, &body.marks);
                for [l, t, r, b] in &body.solid {
                    scene.bodies.push([l + at.0, t + at.1, r + at.0, b + at.1]);
                }
                let wide = f64::from(body.width) * STEP;
                right = right.max(at.0 + wide);
                things.push((self.net.blocks[block].thing, [at.0, at.1, at.0 + wide, at.1 + body.height]));
            }
        }
        for path in &links {
            right = path.points.iter().map(|p| p.0).fold(right, f64::max);
        }
        let bottom = self.layer_top.last().copied().unwrap_or(MARGIN);
        Layout {
            size: (right + MARGIN, bottom + MARGIN),
            links,
            things,
            symbols: scene.marks,
            bodies: scene.bodies,
        }
    }
}

/// Adds a corner, and leaves out what lies on a straight line.
fn push(points: &mut Vec<At>, at: At) {
    let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
    if points.last().is_some_and(|p| same(p.0, at.0) && same(p.1, at.1)) {
        return;
    }
    if let [.., a, b] = points.as_slice() {
        let on = |f: fn(&At) -> f64| same(f(a), f(b)) && same(f(b), f(&at));
        if on(|p| p.0) || on(|p| p.1) {
            points.pop();
        }
    }
    points.push(at);
}

impl Layout {
    /// Says what stands beside the links, in place of what stood there.
    pub fn say(&mut self, label: Labels<'_>) {
        for path in &mut self.links {
            path.labels.clear();
            path.tags.clear();
            let said = [label(&path.link, 1 - path.lower, false), label(&path.link, path.lower, true)];
            for (place, said) in path.places.iter().zip(said) {
                let (Some(place), Some(said)) = (place, said) else { continue };
                let away = if place.hangs { TAG } else { -TAG };
                for (i, tag) in said.tags.into_iter().enumerate() {
                    path.tags.push(((place.tags.0, place.tags.1 + away * i as f64), tag));
                }
                let below = if place.hangs { width_of(&said.text, SMALL) } else { 0.0 };
                let at = (place.at.0, place.at.1 + below);
                if !said.text.is_empty() {
                    let words =
                        Words { at, text: said.text, size: SMALL, bold: false, middle: false, upright: true };
                    path.labels.push(words);
                }
            }
        }
    }

    /// Says what stands over the bars of supplies, by their index: their name with the volts of a state.
    pub fn say_supplies(&mut self, said: &dyn Fn(usize) -> Option<String>) {
        for &(thing, [left, top, right, bottom]) in &self.things {
            let Thing::Supply(index) = thing else { continue };
            let inside = |(x, y): At| left <= x && x <= right && top <= y && y <= bottom;
            let label = self.symbols.iter_mut().find_map(|mark| match &mut mark.shape {
                Shape::Text(words) if words.bold && inside(words.at) => Some(words),
                _ => None,
            });
            if let (Some(words), Some(said)) = (label, said(index)) {
                words.text = said;
            }
        }
    }

    /// Left and right of what stands above and below the drawing: not what is said but what is drawn sets the width.
    pub fn edges(&self) -> (f64, f64) {
        (MARGIN, self.size.0.max(NARROWEST) - MARGIN)
    }

    /// The marks of the drawing.
    pub fn scene(&self) -> Scene {
        let mut scene = Scene { size: self.size, marks: Vec::new(), bodies: self.bodies.clone() };
        for (index, path) in self.links.iter().enumerate() {
            scene.marks.push(Mark { class: Class::Link(index), shape: Shape::Line(path.points.clone()) });
        }
        scene.marks.extend(self.symbols.iter().cloned());
        for path in &self.links {
            for label in &path.labels {
                scene.marks.push(Mark { class: Class::Faint, shape: Shape::Text(label.clone()) });
            }
        }
        for (index, path) in self.links.iter().enumerate() {
            for (at, tag) in &path.tags {
                scene.marks.extend(tag.marks(*at, index));
            }
        }
        scene
    }

    /// The points that links and leads belong to.
    pub fn points(&self) -> impl Iterator<Item = PointId> + '_ {
        self.links.iter().flat_map(|l| l.link.points)
    }

    /// How many corners the links have, and how often two of them cross.
    pub fn bends_and_crossings(&self) -> (usize, usize) {
        let bends = self.links.iter().map(|l| l.points.len().saturating_sub(2)).sum();
        let mut flat: Vec<(f64, f64, f64, usize)> = Vec::new();
        let mut down: Vec<(f64, f64, f64, usize)> = Vec::new();
        for (index, path) in self.links.iter().enumerate() {
            for pair in path.points.windows(2) {
                let [(x1, y1), (x2, y2)] = [pair[0], pair[1]];
                if (y1 - y2).abs() < 1e-9 {
                    flat.push((y1, x1.min(x2), x1.max(x2), index));
                } else {
                    down.push((x1, y1.min(y2), y1.max(y2), index));
                }
            }
        }
        let crossings = flat
            .iter()
            .map(|(y, l, r, i)| {
                down.iter().filter(|(x, t, b, j)| i != j && l < x && x < r && t < y && y < b).count()
            })
            .sum();
        (bends, crossings)
    }
}

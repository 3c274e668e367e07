//! Reads the neutral format strictly.

use std::borrow::Cow;
use std::collections::HashMap;
use std::fmt;

use petgraph::graph::{DiGraph, NodeIndex};
use serde::de::{DeserializeSeed, Deserializer, Error as _, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::value::RawValue;

use crate::hydraulics::network::{
    Boundary, Fluid, FrictionLaw, Link, LinkKind, Network, Node, Reason, Rejection,
};
use crate::plan::letters::visible;
use crate::plan::words::{count, short};

/// Longest id of a node or link, bytes: messages name them.
pub const LONGEST_ID: usize = 1000;
/// Deeper nesting of lists and objects is refused.
pub const DEEPEST_NESTING: usize = 100;

/// Reads a network from the text of a file, and checks it.
pub fn read(text: &str) -> Result<Network, Rejection> {
    if nesting(text) > DEEPEST_NESTING {
        return Err(Rejection::new(
            Reason::BadJson,
            format!("nested deeper than {DEEPEST_NESTING} lists or objects; a network needs three"),
        ));
    }
    let mut parts = Parts::default();
    let mut json = serde_json::Deserializer::from_str(text);
    let outcome = Top(&mut parts).deserialize(&mut json).and_then(|()| json.end());
    if let Some(rejection) = parts.rejection.take() {
        return Err(rejection);
    }
    outcome.map_err(|error| Rejection::new(Reason::BadJson, format!("not strict JSON: {error}")))?;
    parts.network()
}

/// Depth of brackets outside strings.
fn nesting(text: &str) -> usize {
    let (mut depth, mut deepest) = (0usize, 0);
    let mut bytes = text.bytes();
    let mut in_string = false;
    while let Some(byte) = bytes.next() {
        match byte {
            b'\\' if in_string => {
                bytes.next();
            }
            b'"' => in_string = !in_string,
            b'[' | b'{' if !in_string => {
                depth += 1;
                deepest = deepest.max(depth);
            }
            b']' | b'}' if !in_string => depth = depth.saturating_sub(1),
            _ => {}
        }
    }
    deepest
}

/// What has been read so far.
#[derive(Default)]
struct Parts<'a> {
    rejection: Option<Rejection>,
    format: Option<&'a RawValue>,
    friction_law: Option<&'a RawValue>,
    gravity: Option<&'a RawValue>,
    fluid: Option<Object<'a>>,
    nodes: Option<Vec<Node>>,
    links: Option<Vec<(String, String, Link)>>,
}

impl Parts<'_> {
    fn network(self) -> Result<Network, Rejection> {
        let format =
            text_of(self.format.ok_or_else(|| missing("format", "the file"))?, "format", "the file")?;
        if format != "liquid-network/1" {
            return Err(Rejection::new(
                Reason::UnknownFormat,
                format!("format '{}' is not known; this reads 'liquid-network/1'", shortened(&format)),
            ));
        }
        let friction_law = match self.friction_law {
            None => FrictionLaw::LaminarColebrook,
            Some(raw) => {
                let code = text_of(raw, "friction_law", "the file")?;
                let law = FrictionLaw::ALL.into_iter().find(|law| law.code() == code.as_ref());
                law.ok_or_else(|| {
                    let known = FrictionLaw::ALL.map(|law| format!("'{}'", law.code()));
                    let (code, known) = (shortened(code.as_ref()), known.join(" or "));
                    let message = format!("friction_law '{code}' is not known; use {known}");
                    Rejection::new(Reason::UnknownFrictionLaw, message)
                })?
            }
        };
        let gravity_m_s2 = match self.gravity {
            None => crate::hydraulics::losses::static_head::STANDARD_GRAVITY_M_S2,
            Some(raw) => number_of(raw, "gravity_m_s2", "the file")?,
        };
        let fluid = self.fluid.ok_or_else(|| missing("fluid", "the file"))?;
        let fluid = Fluid {
            density_kg_m3: fluid.number("density_kg_m3", "fluid")?,
            viscosity_pa_s: fluid.number("viscosity_dynamic_pa_s", "fluid")?,
        };
        let nodes = self.nodes.ok_or_else(|| missing("nodes", "the file"))?;
        let links = self.links.ok_or_else(|| missing("links", "the file"))?;
        let mut graph = DiGraph::with_capacity(nodes.len(), links.len());
        let mut by_name: HashMap<String, NodeIndex> = HashMap::with_capacity(nodes.len());
        for node in nodes {
            let name = node.name.clone();
            let index = graph.add_node(node);
            if by_name.insert(name.clone(), index).is_some() {
                let message = format!("two nodes have the id '{}'; give each its own", short(&name));
                return Err(Rejection::at_node(Reason::DuplicateId, index, message));
            }
        }
        for (from, to, link) in links {
            let find = |id: &str| {
                by_name.get(id).copied().ok_or_else(|| {
                    Rejection::new(
                        Reason::UnknownNode,
                        format!(
                            "link '{}' names node '{}', which does not exist; add the node or correct the name",
                            short(&link.name),
                            short(id)
                        ),
                    )
                })
            };
            let (from, to) = (find(&from)?, find(&to)?);
            graph.add_edge(from, to, link);
        }
        let network = Network { graph, fluid, gravity_m_s2, friction_law };
        network.validate()?;
        Ok(network)
    }
}

fn missing(key: &str, place: &str) -> Rejection {
    Rejection::new(Reason::MissingField, format!("{place}: '{key}' is missing; add it"))
}

/// The members of one small object, unread.
#[derive(Default)]
struct Object<'a>(Vec<(Cow<'a, str>, &'a RawValue)>);

impl<'a> Object<'a> {
    fn get(&self, key: &str) -> Option<&'a RawValue> {
        self.0.iter().find(|(name, _)| name == key).map(|(_, raw)| *raw)
    }

    fn need(&self, key: &str, place: &str) -> Result<&'a RawValue, Rejection> {
        self.get(key).ok_or_else(|| missing(key, place))
    }

    fn number(&self, key: &str, place: &str) -> Result<f64, Rejection> {
        number_of(self.need(key, place)?, key, place)
    }

    fn number_or(&self, key: &str, otherwise: f64, place: &str) -> Result<f64, Rejection> {
        self.get(key).map_or(Ok(otherwise), |raw| number_of(raw, key, place))
    }

    fn flag(&self, key: &str, place: &str) -> Result<bool, Rejection> {
        match self.get(key).map(RawValue::get) {
            None | Some("false") => Ok(false),
            Some("true") => Ok(true),
            Some(other) => Err(Rejection::new(
                Reason::BadParameter,
                format!("{place}: '{key}' is {}; use true or false", shortened(other)),
            )),
        }
    }

    fn text(&self, key: &str, place: &str) -> Result<String, Rejection> {
        let text = text_of(self.need(key, place)?, key, place)?;
        if text.len() > LONGEST_ID {
            return Err(Rejection::new(
                Reason::BadParameter,
                format!(
                    "{place}: '{key}' takes {} bytes, and can take {} at most; shorten it",
                    count(text.len()),
                    count(LONGEST_ID)
                ),
            ));
        }
        if text.is_empty() {
            return Err(Rejection::new(
                Reason::BadParameter,
                format!("{place}: '{key}' is empty; give a name"),
            ));
        }
        Ok(text.into_owned())
    }
}

fn shortened(text: &str) -> String {
    match text.char_indices().nth(40) {
        Some((end, _)) => format!("{}…", visible(&text[..end])),
        None => visible(text).into_owned(),
    }
}

fn number_of(raw: &RawValue, key: &str, place: &str) -> Result<f64, Rejection> {
    let text = raw.get();
    let digits = text.starts_with(|c: char| c == '-' || c.is_ascii_digit());
    match text.parse::<f64>() {
        Ok(value) if digits && value.is_finite() => Ok(value),
        _ => Err(Rejection::new(
            Reason::BadNumber,
            format!("{place}: '{key}' is {}, not a finite number; give one", shortened(text)),
        )),
    }
}

fn text_of<'a>(raw: &'a RawValue, key: &str, place: &str) -> Result<Cow<'a, str>, Rejection> {
    let text = raw.get();
    if text.starts_with('"')
        && let Ok(Name(value)) = serde_json::from_str::<Name<'a>>(text)
    {
        return Ok(value);
    }
    Err(Rejection::new(
        Reason::BadJson,
        format!("{place}: '{key}' is {}, not a text in quotes; give one", shortened(text)),
    ))
}

fn node(object: &Object<'_>, number: usize) -> Result<Node, Rejection> {
    let name = object.text("id", &format!("node number {}", number + 1))?;
    let place = format!("node '{}'", short(&name));
    let elevation_m = object.number_or("elevation_m", 0.0, &place)?;
    let boundary = match (object.get("fixed_pressure_pa"), object.get("inflow_m3s")) {
        (Some(_), Some(_)) => {
            return Err(Rejection::new(
                Reason::OverdeterminedNode,
                format!("{place}: has both fixed_pressure_pa and inflow_m3s; keep one"),
            ));
        }
        (Some(raw), None) => Boundary::Pressure(number_of(raw, "fixed_pressure_pa", &place)?),
        (None, Some(raw)) => Boundary::Inflow(number_of(raw, "inflow_m3s", &place)?),
        (None, None) => Boundary::Inflow(0.0),
    };
    Ok(Node { name, elevation_m, boundary })
}

fn link(object: &Object<'_>, number: usize) -> Result<(String, String, Link), Rejection> {
    let name = object.text("id", &format!("link number {}", number + 1))?;
    let place = format!("link '{}'", short(&name));
    let kind = object.text("kind", &place)?;
    let from = object.text("from", &place)?;
    let to = object.text("to", &place)?;
    let need = |key| object.number(key, &place);
    let or_zero = |key| object.number_or(key, 0.0, &place);
    let kind = match kind.as_str() {
        "pipe" => LinkKind::Pipe {
            length_m: need("length_m")?,
            bore_m: need("bore_m")?,
            roughness_m: or_zero("roughness_m")?,
            k_minor: or_zero("k_minor")?,
        },
        "fitting" => LinkKind::Fitting { k: need("k")?, bore_m: need("bore_m")? },
        "orifice" => {
            let thickness_m = or_zero("thickness_m")?;
            LinkKind::Orifice {
                diameter_m: need("diameter_m")?,
                cd: need("cd")?,
                creeping_thickness_m: object.flag("creeping", &place)?.then_some(thickness_m),
            }
        }
        "check_valve" => LinkKind::CheckValve {
            crack_pressure_pa: need("crack_pressure_pa")?,
            k: need("k")?,
            bore_m: need("bore_m")?,
        },
        other => {
            return Err(Rejection::new(
                Reason::UnknownKind,
                format!(
                    "{place}: kind '{}' is not known; use pipe, fitting, orifice or check_valve",
                    shortened(other)
                ),
            ));
        }
    };
    let closed = object.flag("closed", &place)?;
    Ok((from, to, Link { name, kind, closed }))
}

/// A text that borrows from the file where it can.
struct Name<'a>(Cow<'a, str>);

impl<'de: 'a, 'a> serde::Deserialize<'de> for Name<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Text;
        impl<'de> Visitor<'de> for Text {
            type Value = Cow<'de, str>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a text")
            }
            fn visit_borrowed_str<E>(self, text: &'de str) -> Result<Self::Value, E> {
                Ok(Cow::Borrowed(text))
            }
            fn visit_str<E>(self, text: &str) -> Result<Self::Value, E> {
                Ok(Cow::Owned(text.to_owned()))
            }
        }
        deserializer.deserialize_str(Text).map(Self)
    }
}

/// Reads the outermost object.
struct Top<'p, 'a>(&'p mut Parts<'a>);

impl<'a> DeserializeSeed<'a> for Top<'_, 'a> {
    type Value = ();
    fn deserialize<D: Deserializer<'a>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_map(self)
    }
}

impl<'a> Visitor<'a> for Top<'_, 'a> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object with format, fluid, nodes and links")
    }

    fn visit_map<M: MapAccess<'a>>(self, mut map: M) -> Result<(), M::Error> {
        let parts = self.0;
        let mut seen: Vec<Cow<'a, str>> = Vec::new();
        while let Some(Name(key)) = map.next_key::<Name<'a>>()? {
            if seen.contains(&key) {
                return Err(M::Error::custom(format!("the key '{}' occurs twice", shortened(&key))));
            }
            if seen.len() > MOST_KEYS {
                return Err(M::Error::custom("more keys than any network has"));
            }
            match key.as_ref() {
                "format" => parts.format = Some(map.next_value()?),
                "friction_law" => parts.friction_law = Some(map.next_value()?),
                "gravity_m_s2" => parts.gravity = Some(map.next_value()?),
                "fluid" => parts.fluid = Some(map.next_value_seed(Members)?),
                "nodes" => {
                    let mut nodes = Vec::new();
                    map.next_value_seed(List {
                        rejection: &mut parts.rejection,
                        into: &mut nodes,
                        read: node,
                    })?;
                    parts.nodes = Some(nodes);
                }
                "links" => {
                    let mut links = Vec::new();
                    map.next_value_seed(List {
                        rejection: &mut parts.rejection,
                        into: &mut links,
                        read: link,
                    })?;
                    parts.links = Some(links);
                }
                _ => {
                    map.next_value::<IgnoredAny>()?;
                }
            }
            seen.push(key);
        }
        Ok(())
    }
}

/// More keys in one object are refused: no network needs them, and looking for repeats would get slow.
const MOST_KEYS: usize = 200;

/// Reads one small object without looking at its values.
struct Members;

impl<'a> DeserializeSeed<'a> for Members {
    type Value = Object<'a>;
    fn deserialize<D: Deserializer<'a>>(self, deserializer: D) -> Result<Object<'a>, D::Error> {
        deserializer.deserialize_map(self)
    }
}

impl<'a> Visitor<'a> for Members {
    type Value = Object<'a>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object")
    }

    fn visit_map<M: MapAccess<'a>>(self, mut map: M) -> Result<Object<'a>, M::Error> {
        let mut object = Object(Vec::with_capacity(10));
        while let Some(Name(key)) = map.next_key::<Name<'a>>()? {
            if object.get(&key).is_some() {
                return Err(M::Error::custom(format!(
                    "the key '{}' occurs twice in one object",
                    shortened(&key)
                )));
            }
            if object.0.len() > MOST_KEYS {
                return Err(M::Error::custom("more keys than any node or link has"));
            }
            object.0.push((key, map.next_value()?));
        }
        Ok(object)
    }
}

/// Reads a list of small objects one after the other.
struct List<'p, T, F> {
    rejection: &'p mut Option<Rejection>,
    into: &'p mut Vec<T>,
    read: F,
}

impl<'a, T, F: Fn(&Object<'a>, usize) -> Result<T, Rejection>> DeserializeSeed<'a> for List<'_, T, F> {
    type Value = ();
    fn deserialize<D: Deserializer<'a>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'a, T, F: Fn(&Object<'a>, usize) -> Result<T, Rejection>> Visitor<'a> for List<'_, T, F> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of objects")
    }

    fn visit_seq<S: SeqAccess<'a>>(self, mut list: S) -> Result<(), S::Error> {
        while let Some(object) = list.next_element_seed(Members)? {
            match (self.read)(&object, self.into.len()) {
                Ok(value) => self.into.push(value),
                Err(rejection) => {
                    // Carried beside the error of the JSON reader, which knows no codes.
                    *self.rejection = Some(rejection);
                    return Err(S::Error::custom("refused"));
                }
            }
        }
        Ok(())
    }
}

//! Writes networks, solutions and refusals in the neutral format.

use std::fmt;

use crate::files::epa_file::{pipe_at, tube_note};
use crate::hydraulics::link::LinkNumber;
use crate::hydraulics::network::{Boundary, LinkKind, Network, Rejection};
use crate::hydraulics::solver::{Failure, Solution};
use crate::plan::letters::is_refused;

/// Writes a solved network in the neutral format, one node or link a line. The format has no metering tubes: each is
/// written as a pipe with the friction and `K` that hold at the solution, which its `meta` says. `notes` go into the
/// file's own `meta`, which readers pass over. A supply is written as what it holds there.
pub fn network_json(network: &Network, solution: &Solution, notes: &[String]) -> String {
    use fmt::Write as _;
    let mut text = String::from("{\"format\": \"liquid-network/1\",\n \"meta\": {\"notes\": [");
    for (index, note) in notes.iter().enumerate() {
        text.push_str(if index == 0 { "\n  " } else { ",\n  " });
        quoted(&mut text, note);
    }
    let law = network.friction_law.code();
    // Writing to a string does not fail.
    let _ = write!(
        text,
        "]}},\n \"friction_law\": \"{law}\",\n \"gravity_m_s2\": {:?},\n \"fluid\": {{\"density_kg_m3\": {:?}, \
         \"viscosity_dynamic_pa_s\": {:?}}},\n \"nodes\": [",
        network.gravity_m_s2, network.fluid.density_kg_m3, network.fluid.viscosity_pa_s
    );
    for (index, node) in network.graph.node_weights().enumerate() {
        text.push_str(if index == 0 { "\n  {\"id\": " } else { ",\n  {\"id\": " });
        quoted(&mut text, &node.name);
        let _ = write!(text, ", \"elevation_m\": {:?}", node.elevation_m);
        let _ = match node.boundary.at_solution(solution.supply.as_ref()) {
            Boundary::Pressure(pressure) => write!(text, ", \"fixed_pressure_pa\": {pressure:?}}}"),
            Boundary::Inflow(0.0) => write!(text, "}}"),
            Boundary::Inflow(flow) => write!(text, ", \"inflow_m3s\": {flow:?}}}"),
            // Became one of the others above.
            Boundary::Supply(_) => Ok(()),
        };
    }
    text.push_str("],\n \"links\": [");
    for edge in network.graph.edge_indices() {
        let Some((from, to)) = network.graph.edge_endpoints(edge) else { continue };
        let link = &network.graph[edge];
        text.push_str(if edge.index() == 0 { "\n  {\"id\": " } else { ",\n  {\"id\": " });
        quoted(&mut text, &link.name);
        text.push_str(", \"from\": ");
        quoted(&mut text, &network.graph[from].name);
        text.push_str(", \"to\": ");
        quoted(&mut text, &network.graph[to].name);
        let flow = solution.link_flow_m3s.get(edge.index()).copied().unwrap_or(0.0);
        let kind = pipe_at(&link.kind, network, flow);
        let _ = write!(text, ", \"kind\": \"{}\"", kind.code().unwrap_or_default());
        for LinkNumber { key, value, .. } in kind.numbers().into_iter().flatten() {
            if key == "thickness_m" {
                text.push_str(", \"creeping\": true");
            }
            let _ = write!(text, ", \"{key}\": {value:?}");
        }
        if let LinkKind::MeteringTube { .. } = link.kind {
            text.push_str(", \"meta\": {\"note\": ");
            quoted(&mut text, &tube_note(&link.name, network, &link.kind, flow));
            text.push('}');
        }
        text.push_str(if link.closed { ", \"closed\": true}" } else { "}" });
    }
    text.push_str("]}\n");
    text
}

/// Writes a solution in the neutral format.
pub fn solution_json(network: &Network, solution: &Solution) -> String {
    let (nodes, links) = (network.graph.raw_nodes(), network.graph.raw_edges());
    let mut text = String::with_capacity(64 * (nodes.len() + links.len()) + 200);
    text.push_str(
        "{\"format\": \"liquid-network-solution/1\", \"status\": \"ok\",\n \"node_pressure_pa\": {",
    );
    for (index, (node, pressure)) in nodes.iter().zip(&solution.node_pressure_pa).enumerate() {
        entry(&mut text, index, &node.weight.name, *pressure);
    }
    text.push_str("},\n \"link_flow_m3s\": {");
    for (index, (link, flow)) in links.iter().zip(&solution.link_flow_m3s).enumerate() {
        entry(&mut text, index, &link.weight.name, Some(*flow));
    }
    text.push_str("}}\n");
    text
}

/// Writes a refusal in the neutral format.
pub fn rejection_json(rejection: &Rejection) -> String {
    refusal(rejection.reason.code(), &rejection.message)
}

/// Writes a failure to solve: a refusal, or a network that was not solved (a code of our own, `not_settled`).
pub fn failure_json(failure: &Failure) -> String {
    match failure {
        Failure::Rejected(rejection) => rejection_json(rejection),
        Failure::NotSettled { message, .. } => refusal("not_settled", message),
    }
}

fn refusal(code: &str, message: &str) -> String {
    let mut text = format!(
        "{{\"format\": \"liquid-network-solution/1\", \"status\": \"rejected\", \"reason\": \"{code}\", \"message\": "
    );
    quoted(&mut text, message);
    text.push_str("}\n");
    text
}

fn entry(text: &mut String, index: usize, name: &str, value: Option<f64>) {
    use fmt::Write as _;
    if index > 0 {
        text.push_str(", ");
    }
    quoted(text, name);
    text.push_str(": ");
    match value {
        Some(value) if value.is_finite() => {
            // Zero without its sign; everything else in the fewest digits that read back to the same bits.
            let value = if value == 0.0 { 0.0 } else { value };
            let _ = write!(text, "{value:?}");
        }
        _ => text.push_str("null"),
    }
}

fn quoted(text: &mut String, value: &str) {
    use fmt::Write as _;
    text.push('"');
    for c in value.chars() {
        match c {
            '"' => text.push_str("\\\""),
            '\\' => text.push_str("\\\\"),
            // Also what JSON lets pass, but no terminal and no reader of lines should see.
            c if is_refused(c) => {
                for unit in c.encode_utf16(&mut [0; 2]) {
                    // Writing to a string does not fail.
                    let _ = write!(text, "\\u{unit:04x}");
                }
            }
            c => text.push(c),
        }
    }
    text.push('"');
}

//! tests/checks/traceability.json: descendants and ancestors as networkx finds them.

use super::{batch, codes, draw, lot, stocked, support};
use stillroom::plan::quantity::Quantity;
use stillroom::plan::trace::{Genealogy, Subject, Way};

fn texts(value: &serde_json::Value) -> Vec<String> {
    value.as_array().unwrap().iter().map(|text| text.as_str().unwrap().to_owned()).collect()
}

/// Every node that something leads into is a batch, and a lot of the same code that the batch became; the others are
/// lots that were bought.
#[test]
fn what_hangs_on_a_node_is_what_networkx_finds() {
    let mut looked_at = 0;
    for case in support::cases("traceability.json") {
        let edges: Vec<(String, String, i64)> = case["edges_from_to_grams"]
            .as_array()
            .unwrap()
            .iter()
            .map(|edge| {
                let text = |place: usize| edge[place].as_str().unwrap().to_owned();
                (text(0), text(1), support::whole(&edge[2]))
            })
            .collect();
        let mut nodes: Vec<&str> = edges.iter().flat_map(|(from, to, _)| [from.as_str(), to.as_str()]).collect();
        nodes.sort_unstable();
        nodes.dedup();
        let is_made = |node: &str| edges.iter().any(|(_, to, _)| to == node);
        let mut genealogy = Genealogy { lots: nodes.iter().map(|node| lot(node)).collect(), ..Genealogy::default() };
        for node in nodes.iter().filter(|node| is_made(node)) {
            genealogy.batches.push(batch(node, 0, 0));
            genealogy.stocked.push(stocked(node, node));
        }
        genealogy.draws = edges.iter().map(|(from, to, grams)| draw(from, to, grams * 1_000)).collect();
        let index = genealogy.index();
        for (node, expected) in case["expected"].as_object().unwrap() {
            let (_, forward) = codes(&genealogy, &index.walk(Subject::Lot(index.lot(node).unwrap()), Way::Forward));
            assert_eq!(forward, texts(&expected["forward"]), "{} forward from {node}", case["id"]);
            if is_made(node) {
                let subject = Subject::Batch(index.batch(node).unwrap());
                let (backward, _) = codes(&genealogy, &index.walk(subject, Way::Backward));
                assert_eq!(backward, texts(&expected["backward"]), "{} backward from {node}", case["id"]);
            }
            looked_at += 1;
        }
        for (from, to, grams) in &edges {
            let drawn = index.drawn_for(index.batch(to).unwrap());
            assert_eq!(drawn[&index.lot(from).unwrap()], Quantity(grams * 1_000));
        }
    }
    assert!(looked_at >= 50, "only {looked_at} nodes were looked at");
}

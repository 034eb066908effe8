"""The knowledge as a typed directed graph, and the plain tables that inference runs on.

Purpose: one graph that can be drawn and queried (networkx), and `Network`, compiled from it and from
nothing else, so that what is drawn is what is computed.

Nodes carry `kind` (area, part, cause, check, complaint, remedy, caution, state, setting) and `title`; edges `kind`:
area -holds-> cause, part -state-> cause, cause -shows-> check (strengths), complaint -says-> check (outcomes),
remedy -cures-> cause (chance), check/remedy/setting -needs-> state, step -warns-> caution, step -before-> step
(rule), setting -before-> setting, -disturbs-> setting, -accepts-> check, -looks_first-> check, -works-> remedy.
Law: node and edge order follow the files.
Not checked here: the knowledge itself (see `rules`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import networkx as nx

    from .catalogue import Catalogue
    from .model import Cause
    from .setting_step import SettingStep

PROOF_RUN = "proof_run"
"""The run after a remedy, as a check that every cause bears on: outcome 0 passes, 1 fails.

Every run is drawn afresh, for each cause that is there and for the false alarm. A look at one thing is settled by how
the set is: who looks again sees the same. Whether a fault left shows in a run of a few minutes hangs on what that run
brings out: how warm the set got, which load steps came, whether the loose thing shook just then. So a second run tells
something new, and belief, planner, sets drawn for rehearsal and the optimum of the tests all take it so.
"""


@dataclass(frozen=True, slots=True)
class Network:
    """Tables for inference.

    parts: part id -> its causes (they exclude one another).
    leak: check id -> probability of each outcome with no listed cause present.
    shows: check id -> cause id -> probability of each outcome, from that cause alone.
    group: check id -> id shared by checks that look at the same thing again.
    cures: remedy id -> cause id -> chance that the remedy removes the cause.
    says: complaint id -> (mode, {check id: outcome positions}).
    alike: chance that a cause shows as strongly in one check of a group as in the next (one draw for all of them);
    else each check of the group has its own draw. The same check looked at again always has the same.
    """

    parts: Mapping[str, tuple[str, ...]]
    leak: Mapping[str, tuple[float, ...]]
    shows: Mapping[str, Mapping[str, tuple[float, ...]]]
    group: Mapping[str, str]
    cures: Mapping[str, Mapping[str, float]]
    says: Mapping[str, tuple[str, Mapping[str, tuple[int, ...]]]]
    alike: float = 1.0


def build_graph(catalogue: Catalogue) -> nx.DiGraph[str]:
    """Typed graph of a catalogue. Retired items are left out."""
    import networkx as nx  # 0.1 s: only loaded where a graph is really wanted

    graph: nx.DiGraph[str] = nx.DiGraph()
    for state in catalogue.states.values():
        graph.add_node(state.id, kind="state", title=state.title)
    for caution in catalogue.cautions.values():
        graph.add_node(caution.id, kind="caution", title=caution.title)
    for check in catalogue.checks.values():
        if check.retired:
            continue
        graph.add_node(
            check.id,
            kind="check",
            title=check.title,
            outcomes=tuple(outcome.id for outcome in check.outcomes),
            leak=check.leak,
            group=check.group or check.id,
        )
        graph.add_edge(check.id, check.state, kind="needs")
        for name in check.cautions:
            graph.add_edge(check.id, name, kind="warns")
    for cause in catalogue.causes.values():
        if not cause.retired:
            _add_cause(graph, cause)
    for complaint in catalogue.complaints.values():
        if complaint.retired:
            continue
        graph.add_node(complaint.id, kind="complaint", title=complaint.title, mode=complaint.mode)
        for check_id, outcomes in complaint.says.items():
            graph.add_edge(complaint.id, check_id, kind="says", outcomes=outcomes)
    for remedy in catalogue.remedies.values():
        if remedy.retired:
            continue
        graph.add_node(remedy.id, kind="remedy", title=remedy.title)
        graph.add_edge(remedy.id, remedy.state, kind="needs")
        for cause_id, chance in remedy.cures.items():
            graph.add_edge(remedy.id, cause_id, kind="cures", chance=chance)
        for name in remedy.cautions:
            graph.add_edge(remedy.id, name, kind="warns")
    for rule in catalogue.order.values():
        for before in rule.before:
            for after in rule.after:
                if before in graph and after in graph and rule.kind != "do_again":
                    graph.add_edge(before, after, kind="before", rule=rule.id)
    for step in catalogue.setting.values():
        if step.retired is None:
            graph.add_node(step.id, kind="setting", title=step.title)
    for step in catalogue.setting.values():
        if step.retired is None:
            _add_setting(graph, step)
    return graph


def _add_cause(graph: nx.DiGraph[str], cause: Cause) -> None:
    graph.add_node(cause.id, kind="cause", title=cause.title, prior=cause.how_common)
    area, part = f"area:{cause.area}", f"part:{cause.part}"
    graph.add_node(area, kind="area", title=cause.area.replace("_", " "))
    graph.add_node(part, kind="part", title=cause.part.replace("_", " "))
    graph.add_edge(area, cause.id, kind="holds")
    graph.add_edge(part, cause.id, kind="state")
    for check_id, strengths in cause.shows.items():
        graph.add_edge(cause.id, check_id, kind="shows", strengths=strengths)


def _add_setting(graph: nx.DiGraph[str], step: SettingStep) -> None:
    """The edges of one step of setting; every step is a node already."""
    graph.add_edge(step.id, step.state, kind="needs")
    for name in step.needs:
        graph.add_edge(name, step.id, kind="before")
    for name in step.disturbs:
        # What is needed first and disturbed all the same has the edge that orders it.
        if not graph.has_edge(step.id, name):
            graph.add_edge(step.id, name, kind="disturbs")
    for name in step.accepts:
        graph.add_edge(step.id, name, kind="accepts")
    for name in step.looks:
        if not graph.has_edge(step.id, name):
            graph.add_edge(step.id, name, kind="looks_first")
    for name in step.works:
        graph.add_edge(step.id, name, kind="works")
    for name in step.cautions:
        graph.add_edge(step.id, name, kind="warns")


def compile_network(graph: nx.DiGraph[str], proof_shows: float, proof_false: float, alike: float = 1.0) -> Network:
    """The tables of a graph. The proof run is added as one more check that every cause bears on."""
    kinds = {node: data["kind"] for node, data in graph.nodes(data=True)}
    parts: dict[str, tuple[str, ...]] = {}
    leak: dict[str, tuple[float, ...]] = {}
    shows: dict[str, dict[str, tuple[float, ...]]] = {}
    group: dict[str, str] = {}
    cures: dict[str, dict[str, float]] = {}
    says: dict[str, tuple[str, dict[str, tuple[int, ...]]]] = {}
    for node, data in graph.nodes(data=True):
        if kinds[node] == "part":
            parts[node.removeprefix("part:")] = tuple(graph.successors(node))
        elif kinds[node] == "check":
            leak[node], group[node] = data["leak"], data["group"]
            shows[node] = {
                cause: graph.edges[cause, node]["strengths"]
                for cause in graph.predecessors(node)
                if kinds[cause] == "cause"
            }
        elif kinds[node] == "complaint":
            says[node] = (
                data["mode"],
                {
                    check: tuple(graph.nodes[check]["outcomes"].index(name) for name in edge["outcomes"])
                    for _, check, edge in graph.out_edges(node, data=True)
                },
            )
        elif kinds[node] == "remedy":
            cures[node] = {
                cause: edge["chance"] for _, cause, edge in graph.out_edges(node, data=True) if edge["kind"] == "cures"
            }
    leak[PROOF_RUN], group[PROOF_RUN] = (1.0 - proof_false, proof_false), PROOF_RUN
    shows[PROOF_RUN] = {node: (1.0 - proof_shows, proof_shows) for node, kind in kinds.items() if kind == "cause"}
    return Network(parts, leak, shows, group, cures, says, alike)

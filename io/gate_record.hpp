// What the full run of a layout of gates leaves in a record, all that tables, files and page need.
#pragma once

#include "io/comparison_report.hpp"
#include "io/gate_layouts.hpp"

#include <nlohmann/json.hpp>

#include <cstddef>
#include <optional>
#include <vector>

namespace tidemark {

/// A layout once it is run.
struct LayoutRun {
  LayoutRow row;                     // of it only what the run tells
  std::vector<NodeId> vents;         // of the layout's own, if they were sought: one node each
  std::optional<RunPicture> picture; // for the page
};

/// As it stands in the record. Numbers come back to the last bit.
nlohmann::ordered_json to_record(const LayoutRun& run);

/// nodes: of the mesh. Throws InputError or an error of nlohmann::json where something is missing
/// or of another kind, or a vent is at no node.
LayoutRun layout_run_from_record(const nlohmann::ordered_json& json, std::size_t nodes);

/// Puts what the run tells into the row of a layout that was planned.
void put_run(LayoutRow run, LayoutRow& row);

} // namespace tidemark

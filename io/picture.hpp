// A picture of the part as values: what is to be seen, before anything is drawn.
#pragma once

#include "io/colour_map.hpp"
#include "io/value_scale.hpp"
#include "mesh/shell_mesh.hpp"

#include <array>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace tidemark {

enum class MarkKind { gate, vent, last_place, shut_in_air, closed_air, dry };

/// The surface in the colours of a field at the nodes, with lines of equal value at the round ticks
/// of the scale.
struct FieldColours {
  PerNode<double> values;   // finite
  PerNode<double> coverage; // 0 to 1; where under one half, the surface is grey
  ValueScale scale;
  double paleness = 0; // 0 the colours of the map, 1 white
};

/// The surface in a colour for each element.
using ElementColours = PerElement<Rgb>;

/// Lines along edges of the mesh.
struct PictureLine {
  std::vector<std::array<NodeId, 2>> segments;
  Rgb colour;
  double width; // [pixels]
};

/// A sign at a place, drawn over everything.
struct PictureMark {
  Vector3 place; // [m]
  MarkKind kind;
  std::string sign = {};  // written in it: a figure or a letter
  std::string label = {}; // written beside it
};

/// An explanation beside the part: a mark, a coloured field or a line, or text alone.
struct LegendRow {
  std::variant<std::monostate, MarkKind, Rgb, PictureLine> symbol;
  std::string text;
  std::string sign = {};    // as of a mark
  bool is_indented = false; // of text alone: under the text of the row above
};

struct Picture {
  std::string file_name;
  std::string title;   // of the part
  std::string verdict; // a sentence
  std::string caption; // what is shown
  std::variant<FieldColours, ElementColours> surface;
  bool has_colour_bar = false; // of the field
  std::vector<PictureLine> lines;
  std::vector<PictureMark> marks; // later ones over earlier ones
  std::vector<LegendRow> legend;
};

} // namespace tidemark

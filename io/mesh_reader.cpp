#include "io/mesh_reader.hpp"

#include "io/mesh_content.hpp"
#include "io/msh_cursor.hpp"
#include "io/msh_format.hpp"
#include "io/obj_reader.hpp"
#include "io/vtk_mesh_reader.hpp"
#include "io/whole_file.hpp"
#include "io/wording.hpp"
#include "mesh/adjacency.hpp"
#include "mesh/coincident.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>

namespace tidemark {

namespace {

constexpr double merge_tolerance = 1e-9;   // of the extent
constexpr double largest_coordinate = 1e6; // [m]; beyond it the unit or the file is wrong

std::string lower_case(std::string text) {
  std::ranges::transform(text, text.begin(), [](unsigned char c) {
    return static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
  });
  return text;
}

// STL, and in practice OBJ and PLY too, give each face vertices of its own.
bool is_soup(const std::string& extension) {
  return extension == ".stl" || extension == ".obj" || extension == ".ply";
}

MeshContent read_content(const std::filesystem::path& file, const std::string& extension) {
  if (extension == ".msh") {
    return parse_msh(whole_file(file), file.string());
  }
  if (extension == ".obj") {
    return parse_obj(whole_file(file), file.string());
  }
  if (is_vtk_extension(extension)) {
    check_readable(file);
    return read_vtk_mesh(file, extension);
  }
  throw InputError(file.string() + ": the extension " + in_quotes(extension) +
                   " is none of the mesh formats .msh .vtk .vtu .vtp .stl .obj .ply");
}

void scale(ShellMesh& mesh, double unit, const std::string& file_name) {
  for (const NodeId node : mesh.positions.ids()) {
    mesh.positions[node] *= unit;
    const double largest = mesh.positions[node].cwiseAbs().maxCoeff();
    if (!(largest <= largest_coordinate)) {
      char text[32];
      std::snprintf(text, sizeof text, "%.3g", largest);
      throw InputError(file_name + ": node " + std::to_string(mesh.node_labels[node]) + " lies " +
                       text + " m from the origin; at most 1e6 m is expected (is the unit right?)");
    }
  }
}

void renumber(ShellMesh& mesh, const PerNode<NodeId>& new_id) {
  for (Element& element : mesh.elements) {
    for (NodeId& node : element.nodes) {
      node = node.valid() ? new_id[node] : node;
    }
  }
  for (NodeSet& set : mesh.node_sets) {
    std::ranges::transform(set.nodes, set.nodes.begin(), [&](NodeId node) { return new_id[node]; });
  }
  for (LineSet& set : mesh.line_sets) {
    for (auto& [a, b] : set.segments) {
      a = new_id[a];
      b = new_id[b];
    }
  }
}

void merge_vertices(MeshContent& content) {
  ShellMesh& mesh = content.mesh;
  const double tolerance = merge_tolerance * mesh_extent(mesh);
  const PerNode<NodeId> first = first_at_same_place(mesh.positions, tolerance);
  PerNode<NodeId> new_id(first.size());
  PerNode<Vector3> positions;
  PerNode<std::int64_t> labels;
  for (const NodeId node : first.ids()) {
    if (first[node] == node) {
      new_id[node] = NodeId(positions.size());
      positions.push_back(mesh.positions[node]);
      labels.push_back(mesh.node_labels[node]);
    } else {
      new_id[node] = new_id[first[node]];
    }
  }
  const std::size_t merged = first.size() - positions.size();
  if (merged == 0) {
    return;
  }
  renumber(mesh, new_id);
  mesh.positions = std::move(positions);
  mesh.node_labels = std::move(labels);
  content.notes.push_back(counted(merged, "vertex", "vertices") + " of " +
                          std::to_string(first.size()) +
                          " merged with an earlier one at the same place, which leaves " +
                          std::to_string(mesh.positions.size()) + ".");
}

PerNode<bool> used_nodes(const ShellMesh& mesh) {
  PerNode<bool> used(mesh.positions.size(), false);
  for (const Element& element : mesh.elements) {
    for (const NodeId node : element.corners()) {
      used[node] = true;
    }
  }
  return used;
}

// How many different mid-side nodes no element has as a corner.
std::size_t unused_mid_side_nodes(const MeshContent& content) {
  PerNode<bool> used = used_nodes(content.mesh);
  std::size_t count = 0;
  for (const NodeId node : content.mid_side_nodes) {
    count += used[node] ? 0 : 1;
    used[node] = true;
  }
  return count;
}

std::size_t members(const NodeSet& set) {
  return set.nodes.size();
}
std::size_t members(const LineSet& set) {
  return set.segments.size();
}

// Sets of one name and kind are one set.
template <class Sets, class Member> void join_sets_of_one_name(Sets& sets, Member member) {
  Sets joined;
  std::map<std::string, std::size_t> place;
  for (auto& set : sets) {
    const auto [entry, is_new] = place.try_emplace(set.name, joined.size());
    if (is_new) {
      joined.push_back(std::move(set));
    } else {
      auto& all = joined[entry->second].*member;
      all.insert(all.end(), (set.*member).begin(), (set.*member).end());
    }
  }
  sets = std::move(joined);
}

template <class T> void sort_unique(std::vector<T>& values) {
  std::ranges::sort(values);
  values.erase(std::unique(values.begin(), values.end()), values.end());
}

void tidy_sets(ShellMesh& mesh) {
  join_sets_of_one_name(mesh.node_sets, &NodeSet::nodes);
  join_sets_of_one_name(mesh.line_sets, &LineSet::segments);
  join_sets_of_one_name(mesh.element_sets, &ElementSet::elements);
  for (NodeSet& set : mesh.node_sets) {
    sort_unique(set.nodes);
  }
  for (ElementSet& set : mesh.element_sets) {
    sort_unique(set.elements);
  }
}

template <class Sets> std::vector<std::size_t> sizes(const Sets& sets) {
  std::vector<std::size_t> result;
  for (const auto& set : sets) {
    result.push_back(members(set));
  }
  return result;
}

// What a set lost with the nodes no element uses; a set that lost everything goes.
template <class Sets>
void note_losses(Sets& sets, const std::vector<std::size_t>& before, const char* one,
                 const char* many, std::vector<std::string>& notes) {
  for (std::size_t i = 0; i < sets.size(); ++i) {
    const std::size_t lost = before[i] - members(sets[i]);
    if (lost > 0) {
      notes.push_back("The group " + in_quotes(sets[i].name) + " lost " + counted(lost, one, many) +
                      " of its " + std::to_string(before[i]) + ": no surface element is there.");
    }
  }
  std::erase_if(sets, [](const auto& set) { return members(set) == 0; });
}

void drop_and_note(MeshContent& content) {
  ShellMesh& mesh = content.mesh;
  const std::size_t mid_side = unused_mid_side_nodes(content);
  const std::vector<std::size_t> nodes_before = sizes(mesh.node_sets);
  const std::vector<std::size_t> segments_before = sizes(mesh.line_sets);
  const std::size_t dropped = drop_unused_nodes(mesh);
  if (content.second_order_elements > 0) {
    content.notes.push_back(counted(content.second_order_elements, "second-order element is",
                                    "second-order elements are") +
                            " read by the corners only; " +
                            counted(mid_side, "mid-side node is", "mid-side nodes are") +
                            " dropped.");
  }
  const std::size_t others = content.second_order_elements > 0 ? dropped - mid_side : dropped;
  if (others > 0) {
    content.notes.push_back(counted(others, "node that no surface element uses is",
                                    "nodes that no surface element uses are") +
                            " dropped.");
  }
  note_losses(mesh.node_sets, nodes_before, "node", "nodes", content.notes);
  note_losses(mesh.line_sets, segments_before, "segment", "segments", content.notes);
}

void note_lines_off_edges(MeshContent& content) {
  const ShellMesh& mesh = content.mesh;
  if (mesh.line_sets.empty()) {
    return;
  }
  const EdgeList edges = element_edges(mesh);
  for (const LineSet& set : mesh.line_sets) {
    const auto off =
        static_cast<std::size_t>(std::ranges::count_if(set.segments, [&](const auto& segment) {
          return !edges.contains(segment[0], segment[1]);
        }));
    if (off > 0) {
      content.notes.push_back("In the group " + in_quotes(set.name) + " " +
                              counted(off, "segment is", "segments are") +
                              " not an edge of any surface element.");
    }
  }
}

} // namespace

MeshFile read_mesh(const std::filesystem::path& file, double unit) {
  if (!std::isfinite(unit) || unit <= 0) {
    throw InputError(file.string() + ": the unit of a mesh must be a length above zero");
  }
  const std::string extension = lower_case(file.extension().string());
  MeshContent content = read_content(file, extension);
  if (content.mesh.elements.empty()) {
    std::string text = file.string() + ": there is no triangle or quadrilateral in this mesh.";
    for (const std::string& note : content.notes) {
      text += " " + note;
    }
    throw InputError(text);
  }
  scale(content.mesh, unit, file.string());
  if (is_soup(extension)) {
    merge_vertices(content);
  }
  tidy_sets(content.mesh);
  drop_and_note(content);
  note_lines_off_edges(content);
  return {std::move(content.mesh), std::move(content.notes)};
}

bool has_mesh_extension(const std::filesystem::path& file) {
  const std::string extension = lower_case(file.extension().string());
  return extension == ".msh" || extension == ".obj" || is_vtk_extension(extension);
}

} // namespace tidemark

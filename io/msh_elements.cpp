#include "io/msh_reader.hpp"

#include <algorithm>
#include <array>
#include <cstdlib>

namespace tidemark {

namespace {

// Numbers and node counts as the MSH format's description gives them; orders 1 and 2.
constexpr std::array<ElementType, 19> element_types{{{1, 1, 2, 2},
                                                     {2, 2, 3, 3},
                                                     {3, 2, 4, 4},
                                                     {4, 3, 0, 4},
                                                     {5, 3, 0, 8},
                                                     {6, 3, 0, 6},
                                                     {7, 3, 0, 5},
                                                     {8, 1, 2, 3},
                                                     {9, 2, 3, 6},
                                                     {10, 2, 4, 9},
                                                     {11, 3, 0, 10},
                                                     {12, 3, 0, 27},
                                                     {13, 3, 0, 18},
                                                     {14, 3, 0, 14},
                                                     {15, 0, 1, 1},
                                                     {16, 2, 4, 8},
                                                     {17, 3, 0, 20},
                                                     {18, 3, 0, 15},
                                                     {19, 3, 0, 13}}};
constexpr std::size_t most_nodes = 27;

void check_label(const MshCursor& cursor, std::int64_t label, const char* what) {
  if (label < 1) {
    cursor.fail("the number of " + std::string(what) + " must be at least 1, found " +
                std::to_string(label));
  }
}

std::span<const std::int64_t> no_zero(const std::int64_t& group) {
  return {&group, group == 0 ? std::size_t{0} : std::size_t{1}};
}

} // namespace

Vector3 MshReader::read_position() {
  Vector3 position;
  for (double& coordinate : position) {
    coordinate = cursor_.real("a coordinate");
  }
  return position;
}

void MshReader::add_node(std::int64_t label, const Vector3& position) {
  content_.mesh.node_labels.push_back(label);
  content_.mesh.positions.push_back(position);
}

void MshReader::index_nodes() {
  cursor_.clear_context();
  const std::optional<std::int64_t> twice = node_index_.build(content_.mesh.node_labels.values());
  if (twice) {
    cursor_.fail("node " + std::to_string(*twice) + " is given twice");
  }
}

void MshReader::read_nodes_2() {
  cursor_.at_end();
  const std::size_t count =
      cursor_.checked_count(cursor_.text_integer("the number of nodes"), 4, 28, "nodes");
  cursor_.end_text_line();
  content_.mesh.positions.reserve(count);
  content_.mesh.node_labels.reserve(count);
  for (std::size_t i = 0; i < count; ++i) {
    cursor_.set_context("node", i + 1, count);
    cursor_.begin_record();
    const std::int64_t label = cursor_.integer("the number of a node");
    check_label(cursor_, label, "a node");
    add_node(label, read_position());
    cursor_.end_record();
  }
  index_nodes();
}

/// The line above the blocks of nodes or elements ("node", "element"), with the numbers and bytes
/// one of these takes at least.
MshReader::BlockCounts MshReader::read_block_counts(const std::string& kind,
                                                    std::size_t numbers_each,
                                                    std::size_t bytes_each) {
  cursor_.begin_record();
  const std::size_t blocks = cursor_.checked_count(
      cursor_.size("the number of " + kind + " blocks"), 4, 20, kind + " blocks");
  const std::size_t total = cursor_.checked_count(cursor_.size("the number of " + kind + "s"),
                                                  numbers_each, bytes_each, kind + "s");
  cursor_.size("the smallest " + kind + " number");
  cursor_.size("the largest " + kind + " number");
  cursor_.end_record();
  return {blocks, total};
}

void MshReader::read_nodes_4() {
  const auto [blocks, total] = read_block_counts("node", 4, 32);
  content_.mesh.positions.reserve(total);
  content_.mesh.node_labels.reserve(total);
  for (std::size_t block = 0; block < blocks; ++block) {
    read_node_block(blocks, total, block);
  }
  if (content_.mesh.positions.size() != total) {
    cursor_.fail("the file says " + std::to_string(total) + " nodes, its blocks have " +
                 std::to_string(content_.mesh.positions.size()));
  }
  index_nodes();
}

void MshReader::read_node_block(std::size_t blocks, std::size_t total, std::size_t block) {
  cursor_.set_context("node block", block + 1, blocks);
  cursor_.begin_record();
  const std::int64_t dimension = cursor_.integer("the dimension of an entity");
  if (dimension < 0 || dimension > 3) {
    cursor_.fail("the dimension of an entity is 0 to 3, found " + std::to_string(dimension));
  }
  cursor_.integer("the number of an entity");
  const std::int64_t parametric = cursor_.integer("the mark for parametric coordinates");
  if (parametric != 0 && parametric != 1) {
    cursor_.fail("the mark for parametric coordinates is 0 or 1, found " +
                 std::to_string(parametric));
  }
  const auto parameters = static_cast<std::size_t>(parametric * dimension);
  const std::size_t count = cursor_.checked_count(cursor_.size("the number of nodes"),
                                                  4 + parameters, 32 + 8 * parameters, "nodes");
  cursor_.end_record();
  if (count > total - content_.mesh.positions.size()) {
    cursor_.fail("the blocks have more nodes than the " + std::to_string(total) + " of the file");
  }
  for (std::size_t i = 0; i < count; ++i) {
    cursor_.begin_record();
    const std::int64_t label = cursor_.size("the number of a node");
    check_label(cursor_, label, "a node");
    content_.mesh.node_labels.push_back(label);
    cursor_.end_record();
  }
  for (std::size_t i = 0; i < count; ++i) {
    cursor_.begin_record();
    content_.mesh.positions.push_back(read_position());
    cursor_.skip_reals(parameters, "a parametric coordinate");
    cursor_.end_record();
  }
}

const ElementType& MshReader::element_type(std::int64_t number) {
  const auto found = std::ranges::find(element_types, number, &ElementType::number);
  if (found == element_types.end()) {
    cursor_.fail("element type " + std::to_string(number) +
                 " is not read; save points, lines, triangles and quadrilaterals of order 1 or 2");
  }
  return *found;
}

// Reads the element's nodes and files it under its groups. Wide: node numbers of 64 bits.
void MshReader::read_element(const ElementType& type, std::int64_t label, bool wide,
                             std::span<const std::int64_t> groups) {
  std::array<NodeId, most_nodes> nodes;
  for (std::size_t i = 0; i < type.nodes; ++i) {
    const std::int64_t node = wide ? cursor_.size("a node") : cursor_.integer("a node");
    nodes[i] = node_index_.find(node);
    if (!nodes[i].valid()) {
      cursor_.fail("element " + std::to_string(label) + " has node " + std::to_string(node) +
                   ", which is not in $Nodes");
    }
  }
  if (type.dimension == 3) {
    ++volume_elements_;
    return;
  }
  content_.mid_side_nodes.insert(content_.mid_side_nodes.end(), nodes.begin() + type.corners,
                                 nodes.begin() + type.nodes);
  if (type.dimension == 2) {
    Element element{{nodes[0], nodes[1], nodes[2], NodeId()}};
    if (type.corners == 4) {
      element.nodes[3] = nodes[3];
    }
    content_.second_order_elements += type.nodes > type.corners ? 1 : 0;
    content_.mesh.elements.push_back(element);
    content_.mesh.element_labels.push_back(label);
  }
  for (const std::int64_t group : groups) {
    if (type.dimension == 0) {
      groups_.points[group].push_back(nodes[0]);
    } else if (type.dimension == 1) {
      groups_.lines[group].push_back({nodes[0], nodes[1]});
    } else if (version_4_) {
      groups_.surfaces[group].push_back(ElementId(content_.mesh.elements.size() - 1));
    }
  }
  if (type.dimension == 2 && !version_4_) {
    only_group_.push_back(groups.empty() ? 0 : groups[0]);
  }
}

// The tags of a version 2.2 element: its physical group (0 = none) and others not needed.
std::int64_t MshReader::read_tags(std::int64_t count) {
  std::int64_t group = 0;
  for (std::int64_t i = 0; i < count; ++i) {
    const std::int64_t tag = cursor_.integer("a tag");
    group = i == 0 ? std::abs(tag) : group;
  }
  return group;
}

void MshReader::read_ascii_element(std::size_t number, std::size_t count) {
  cursor_.set_context("element", number, count);
  cursor_.begin_record();
  const std::int64_t label = cursor_.integer("the number of an element");
  check_label(cursor_, label, "an element");
  const ElementType& type = element_type(cursor_.integer("the type of an element"));
  const std::int64_t tags = cursor_.integer("the number of tags");
  cursor_.checked_count(tags, 1, 4, "tags");
  const std::int64_t group = read_tags(tags);
  read_element(type, label, false, no_zero(group));
  cursor_.end_record();
}

// A run of elements of one type; returns how many.
std::size_t MshReader::read_binary_elements(std::size_t done, std::size_t count) {
  cursor_.set_context("element", done + 1, count);
  const ElementType& type = element_type(cursor_.integer("the type of elements"));
  const std::int64_t said = cursor_.integer("the number of elements of this type");
  const std::int64_t tags = cursor_.integer("the number of tags");
  const std::size_t tag_count = cursor_.checked_count(tags, 1, 4, "tags");
  const std::size_t run =
      cursor_.checked_count(said, 1, 4 * (1 + tag_count + type.nodes), "elements");
  if (run == 0 || run > count - done) {
    cursor_.fail("a run of " + std::to_string(said) + " elements where " +
                 std::to_string(count - done) + " are left");
  }
  for (std::size_t i = 0; i < run; ++i) {
    cursor_.set_context("element", done + i + 1, count);
    const std::int64_t label = cursor_.integer("the number of an element");
    check_label(cursor_, label, "an element");
    const std::int64_t group = read_tags(tags);
    read_element(type, label, false, no_zero(group));
  }
  return run;
}

void MshReader::read_elements_2() {
  if (!sections_.contains("Nodes")) {
    cursor_.fail("$Nodes must come before $Elements");
  }
  cursor_.at_end();
  const std::size_t count =
      cursor_.checked_count(cursor_.text_integer("the number of elements"), 4, 8, "elements");
  cursor_.end_text_line();
  for (std::size_t done = 0; done < count;) {
    if (cursor_.is_binary()) {
      done += read_binary_elements(done, count);
    } else {
      read_ascii_element(++done, count);
    }
  }
}

void MshReader::read_elements_4() {
  if (!sections_.contains("Nodes")) {
    cursor_.fail("$Nodes must come before $Elements");
  }
  const auto [blocks, total] = read_block_counts("element", 2, 16);
  std::size_t done = 0;
  for (std::size_t block = 0; block < blocks; ++block) {
    cursor_.set_context("element block", block + 1, blocks);
    read_element_block(done, total);
  }
  if (done != total) {
    cursor_.fail("the file says " + std::to_string(total) + " elements, its blocks have " +
                 std::to_string(done));
  }
}

std::span<const std::int64_t> MshReader::groups_of_entity(std::int64_t dimension,
                                                          std::int64_t entity) {
  const auto found = entities_.find({dimension, entity});
  if (found != entities_.end()) {
    return found->second;
  }
  unlisted_entities_.insert({dimension, entity});
  return {};
}

void MshReader::read_element_block(std::size_t& done, std::size_t total) {
  cursor_.begin_record();
  const std::int64_t dimension = cursor_.integer("the dimension of an entity");
  const std::int64_t entity = cursor_.integer("the number of an entity");
  const ElementType& type = element_type(cursor_.integer("the type of elements"));
  if (type.dimension != dimension) {
    cursor_.fail("elements of type " + std::to_string(type.number) +
                 " cannot be in an entity of dimension " + std::to_string(dimension));
  }
  const std::size_t count = cursor_.checked_count(cursor_.size("the number of elements"),
                                                  1 + type.nodes, 8 * (1 + type.nodes), "elements");
  cursor_.end_record();
  if (count > total - done) {
    cursor_.fail("the blocks have more elements than the " + std::to_string(total) +
                 " of the file");
  }
  const std::span<const std::int64_t> groups = groups_of_entity(dimension, entity);
  for (std::size_t i = 0; i < count; ++i) {
    cursor_.begin_record();
    const std::int64_t label = cursor_.size("the number of an element");
    check_label(cursor_, label, "an element");
    read_element(type, label, true, groups);
    cursor_.end_record();
  }
  done += count;
}

} // namespace tidemark

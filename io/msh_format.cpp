#include "io/msh_format.hpp"

#include "io/label_index.hpp"
#include "io/msh_cursor.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <limits>
#include <map>
#include <set>
#include <span>

namespace tidemark {

namespace {

struct ElementType {
  std::int64_t number;
  int dimension;
  std::size_t corners; // of points, lines and surfaces
  std::size_t nodes;
};

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

constexpr std::array<const char*, 4> group_words{"point group ", "line group ", "group ",
                                                 "volume group "};

using GroupKey = std::pair<std::int64_t, std::int64_t>;  // dimension, number of the group
using EntityKey = std::pair<std::int64_t, std::int64_t>; // dimension, number of the entity

/// $ElementData as it stands, for elements of any dimension.
struct DataOfElements {
  std::string name;
  std::size_t components;
  std::vector<std::int64_t> labels;
  std::vector<double> values; // element by element
};

struct Groups {
  std::map<std::int64_t, std::vector<NodeId>> points;
  std::map<std::int64_t, std::vector<std::array<NodeId, 2>>> lines;
  std::map<std::int64_t, std::vector<ElementId>> surfaces;
};

class MshReader {
public:
  MshReader(std::string_view content, const std::string& file_name)
      : file_name_(file_name), cursor_(content, file_name) {}

  MeshContent read() {
    read_format();
    while (!cursor_.at_end()) {
      read_section();
    }
    for (const char* needed : {"Nodes", "Elements"}) {
      if (!sections_.contains(needed)) {
        cursor_.fail("the file has no section $" + std::string(needed));
      }
    }
    merge_repeated_elements();
    check_element_labels();
    make_sets();
    make_arrays();
    return std::move(content_);
  }

private:
  void read_format();
  void read_section();
  void expect_end(const std::string& section);
  void skip_section(const std::string& section);
  void read_names();
  void read_entities();
  void read_entity(int dimension);
  void read_nodes_2();
  void read_nodes_4();
  void read_node_block(std::size_t blocks, std::size_t total, std::size_t block);
  void add_node(std::int64_t label, const Vector3& position);
  void index_nodes();
  Vector3 read_position();
  void read_elements_2();
  void read_ascii_element(std::size_t number, std::size_t count);
  std::size_t read_binary_elements(std::size_t done, std::size_t count);
  std::int64_t read_tags(std::int64_t count);
  void read_elements_4();
  void read_element_block(std::size_t& done, std::size_t total);
  std::span<const std::int64_t> groups_of_entity(std::int64_t dimension, std::int64_t entity);
  const ElementType& element_type(std::int64_t number);
  void read_element(const ElementType& type, std::int64_t label, bool wide,
                    std::span<const std::int64_t> groups);
  std::size_t read_tag_count(const char* what, std::int64_t least);
  void read_element_data();
  void make_arrays();
  void merge_repeated_elements();
  void check_element_labels() const;
  void make_sets();
  std::string group_name(std::int64_t dimension, std::int64_t number);

  std::string file_name_;
  MshCursor cursor_;
  bool version_4_ = false;
  std::set<std::string> sections_;
  LabelIndex node_index_;
  std::map<GroupKey, std::string> names_;
  std::set<GroupKey> used_groups_;
  std::map<EntityKey, std::vector<std::int64_t>> entities_;
  std::set<EntityKey> unlisted_entities_;
  Groups groups_;
  std::vector<DataOfElements> data_;
  std::vector<std::int64_t> only_group_; // version 2.2: of each element; 0 = none
  std::size_t volume_elements_ = 0;
  MeshContent content_;
};

void MshReader::read_format() {
  if (cursor_.at_end() || cursor_.word("$MeshFormat") != "$MeshFormat") {
    cursor_.fail("an MSH file begins with $MeshFormat (versions 2.2 and 4.1 are read)");
  }
  cursor_.end_text_line();
  const std::string_view version = cursor_.word("the version");
  if (version != "2.2" && version != "4.1") {
    cursor_.fail("MSH version " + in_quotes(version) + " is not read; save as version 2.2 or 4.1");
  }
  version_4_ = version == "4.1";
  const std::int64_t type = cursor_.text_integer("the file type");
  if (type != 0 && type != 1) {
    cursor_.fail("the file type is 0 (ASCII) or 1 (binary), found " + std::to_string(type));
  }
  const std::int64_t data_size = cursor_.text_integer("the data size");
  if (data_size != 8) {
    cursor_.fail("the data size must be 8, found " + std::to_string(data_size));
  }
  cursor_.end_text_line();
  if (type == 1) {
    cursor_.set_binary(false);
    const std::string_view one = cursor_.bytes(4, "the number 1 that tells the byte order");
    const bool as_here = one == std::string_view("\1\0\0\0", 4);
    if (!as_here && one != std::string_view("\0\0\0\1", 4)) {
      cursor_.fail("the number that tells the byte order is not 1");
    }
    const std::int32_t probe = 1;
    const bool little = *reinterpret_cast<const char*>(&probe) == 1;
    cursor_.set_binary(as_here != little);
  }
  expect_end("MeshFormat");
  sections_.insert("MeshFormat");
}

void MshReader::expect_end(const std::string& section) {
  cursor_.clear_context();
  const std::string end = "$End" + section;
  const std::string_view found = cursor_.word(end);
  if (found != end) {
    cursor_.fail(end + " is expected, found " + in_quotes(found));
  }
  cursor_.end_text_line();
}

void MshReader::read_section() {
  const std::string_view word = cursor_.word("a section");
  if (!word.starts_with('$') || word.starts_with("$End") || word.size() == 1) {
    cursor_.fail("a section such as $Nodes is expected, found " + in_quotes(word));
  }
  const std::string section(word.substr(1));
  cursor_.end_text_line();
  const bool once = section == "PhysicalNames" || section == "Entities" || section == "Nodes" ||
                    section == "Elements" || section == "MeshFormat";
  if (!sections_.insert(section).second && once) {
    cursor_.fail("a second section $" + section);
  }
  if (section == "PhysicalNames") {
    read_names();
  } else if (section == "Entities" && version_4_) {
    read_entities();
  } else if (section == "Nodes") {
    version_4_ ? read_nodes_4() : read_nodes_2();
  } else if (section == "Elements") {
    version_4_ ? read_elements_4() : read_elements_2();
  } else if (section == "ElementData") {
    read_element_data();
  } else if (section == "PartitionedEntities") {
    cursor_.fail("partitioned meshes are not read; save the mesh unpartitioned");
  } else {
    skip_section(section);
    return;
  }
  expect_end(section);
}

void MshReader::skip_section(const std::string& section) {
  if (!cursor_.skip_past("$End" + section)) {
    cursor_.fail("the section $" + section + " has no end");
  }
  cursor_.end_text_line();
}

void MshReader::read_names() {
  cursor_.at_end();
  const std::int64_t count = cursor_.text_integer("the number of physical names");
  cursor_.end_text_line();
  for (std::int64_t i = 0; i < count; ++i) {
    cursor_.at_end();
    const std::int64_t dimension = cursor_.text_integer("the dimension of a physical group");
    if (dimension < 0 || dimension > 3) {
      cursor_.fail("the dimension of a physical group is 0 to 3, found " +
                   std::to_string(dimension));
    }
    const std::int64_t number = std::abs(cursor_.text_integer("the number of a physical group"));
    const std::string_view name = cursor_.rest_of_line();
    if (name.size() < 2 || name.front() != '"' || name.back() != '"') {
      cursor_.fail("a name in double quotes is expected, found " + in_quotes(name));
    }
    if (std::ranges::any_of(name, [](unsigned char c) { return c < 0x20 || c == 0x7f; })) {
      cursor_.fail("the name of a physical group has a control character: " + in_quotes(name));
    }
    const std::string inner(name.substr(1, name.size() - 2));
    if (!names_.try_emplace({dimension, number}, inner).second) {
      cursor_.fail("physical group " + std::to_string(number) + " of dimension " +
                   std::to_string(dimension) + " is named twice");
    }
  }
}

void MshReader::read_entities() {
  if (sections_.contains("Elements")) {
    cursor_.fail("$Entities must come before $Elements");
  }
  std::array<std::size_t, 4> counts{};
  cursor_.begin_record();
  for (std::size_t& count : counts) {
    count = cursor_.checked_count(cursor_.size("the number of entities"), 5, 36, "entities");
  }
  cursor_.end_record();
  for (int dimension = 0; dimension < 4; ++dimension) {
    const std::size_t count = counts[static_cast<std::size_t>(dimension)];
    for (std::size_t i = 0; i < count; ++i) {
      cursor_.set_context("entity", i + 1, count);
      read_entity(dimension);
    }
  }
}

void MshReader::read_entity(int dimension) {
  cursor_.begin_record();
  const std::int64_t entity = cursor_.integer("the number of an entity");
  // Boxes are not needed, and those of empty entities need not be finite.
  cursor_.skip_reals(dimension == 0 ? 3 : 6, "the box of an entity");
  const std::size_t groups =
      cursor_.checked_count(cursor_.size("the number of physical groups"), 1, 4, "physical groups");
  std::vector<std::int64_t> numbers;
  for (std::size_t i = 0; i < groups; ++i) {
    // A negative number is the group too: it tells of a turned direction.
    numbers.push_back(std::abs(cursor_.integer("the number of a physical group")));
  }
  if (dimension > 0) {
    const std::size_t bounds = cursor_.checked_count(
        cursor_.size("the number of bounding entities"), 1, 4, "bounding entities");
    for (std::size_t i = 0; i < bounds; ++i) {
      cursor_.integer("the number of a bounding entity");
    }
  }
  std::ranges::sort(numbers);
  numbers.erase(std::unique(numbers.begin(), numbers.end()), numbers.end());
  if (!entities_.try_emplace({dimension, entity}, std::move(numbers)).second) {
    cursor_.fail("entity " + std::to_string(entity) + " of dimension " + std::to_string(dimension) +
                 " is given twice");
  }
  cursor_.end_record();
}

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

void check_label(const MshCursor& cursor, std::int64_t label, const char* what) {
  if (label < 1) {
    cursor.fail("the number of " + std::string(what) + " must be at least 1, found " +
                std::to_string(label));
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

void MshReader::read_nodes_4() {
  cursor_.begin_record();
  const std::size_t blocks =
      cursor_.checked_count(cursor_.size("the number of node blocks"), 4, 20, "node blocks");
  const std::size_t total =
      cursor_.checked_count(cursor_.size("the number of nodes"), 4, 32, "nodes");
  cursor_.size("the smallest node number");
  cursor_.size("the largest node number");
  cursor_.end_record();
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

std::span<const std::int64_t> no_zero(const std::int64_t& group) {
  return {&group, group == 0 ? std::size_t{0} : std::size_t{1}};
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
  cursor_.begin_record();
  const std::size_t blocks =
      cursor_.checked_count(cursor_.size("the number of element blocks"), 4, 20, "element blocks");
  const std::size_t total =
      cursor_.checked_count(cursor_.size("the number of elements"), 2, 16, "elements");
  cursor_.size("the smallest element number");
  cursor_.size("the largest element number");
  cursor_.end_record();
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

std::size_t MshReader::read_tag_count(const char* what, std::int64_t least) {
  constexpr std::int64_t most = 100;
  cursor_.at_end();
  const std::int64_t count = cursor_.text_integer(what);
  if (count < least || count > most) {
    cursor_.fail(std::string(what) + " must be " + std::to_string(least) + " to " +
                 std::to_string(most) + ", found " + std::to_string(count));
  }
  cursor_.end_text_line();
  return static_cast<std::size_t>(count);
}

void MshReader::read_element_data() {
  constexpr std::int64_t most_components = 9; // a tensor
  DataOfElements data;
  const std::size_t texts = read_tag_count("the number of text tags", 1);
  for (std::size_t i = 0; i < texts; ++i) {
    cursor_.at_end();
    const std::string_view text = cursor_.rest_of_line();
    const bool is_quoted = text.size() >= 2 && text.front() == '"' && text.back() == '"';
    if (i == 0) {
      data.name = is_quoted ? text.substr(1, text.size() - 2) : text;
    }
  }
  const std::size_t reals = read_tag_count("the number of real tags", 0);
  for (std::size_t i = 0; i < reals; ++i) {
    cursor_.word("a real tag"); // such as the time
    cursor_.end_text_line();
  }
  const std::size_t integers = read_tag_count("the number of integer tags", 3);
  std::vector<std::int64_t> tags;
  for (std::size_t i = 0; i < integers; ++i) {
    cursor_.at_end();
    tags.push_back(cursor_.text_integer("an integer tag"));
    cursor_.end_text_line();
  }
  if (tags[1] < 1 || tags[1] > most_components) {
    cursor_.fail("the number of components must be 1 to 9, found " + std::to_string(tags[1]));
  }
  data.components = static_cast<std::size_t>(tags[1]);
  const std::size_t count =
      cursor_.checked_count(tags[2], 1 + data.components, 4 + 8 * data.components, "values");
  for (std::size_t i = 0; i < count; ++i) {
    cursor_.set_context("value", i + 1, count);
    cursor_.begin_record();
    data.labels.push_back(cursor_.integer("the number of an element"));
    for (std::size_t k = 0; k < data.components; ++k) {
      // What is not a number is told where a region uses it.
      data.values.push_back(cursor_.any_real("a value"));
    }
    cursor_.end_record();
  }
  data_.push_back(std::move(data));
}

// Elements without a value get NaN, which is told where a region uses the array.
void MshReader::make_arrays() {
  constexpr std::size_t most_components = 3;
  ShellMesh& mesh = content_.mesh;
  LabelIndex index;
  if (data_.empty() || index.build(mesh.element_labels.values())) {
    return;
  }
  for (const DataOfElements& data : data_) {
    if (std::ranges::count(mesh.element_arrays, data.name, &ElementArray::name) > 0) {
      content_.notes.push_back("Of several $ElementData called " + in_quotes(data.name) +
                               " the first is used.");
      continue;
    }
    ElementArray array{data.name, data.components, false, {}};
    if (data.components <= most_components) {
      array.values.assign(data.components * mesh.elements.size(),
                          std::numeric_limits<double>::quiet_NaN());
    }
    for (std::size_t i = 0; i < data.labels.size() && !array.values.empty(); ++i) {
      const auto element = index.find(data.labels[i]); // its place among the elements
      for (std::size_t k = 0; k < data.components && element.valid(); ++k) {
        array.values[data.components * element.position() + k] =
            data.values[data.components * i + k];
      }
    }
    mesh.element_arrays.push_back(std::move(array));
  }
}

struct Corners {
  std::array<NodeId, 4> sorted;
  ElementId element;
  auto operator<=>(const Corners&) const = default;
};

// For each element the first of the same corners in another group, or itself. The same corners
// twice in one group, or without a group, stay two elements: that is for the mesh check to tell.
PerElement<ElementId> first_of_repeats(const PerElement<Element>& elements,
                                       const std::vector<std::int64_t>& group) {
  std::vector<Corners> all;
  all.reserve(elements.size());
  for (const ElementId element : elements.ids()) {
    all.push_back({elements[element].nodes, element});
    std::ranges::sort(all.back().sorted);
  }
  std::ranges::sort(all);
  PerElement<ElementId> first(elements.size());
  std::set<std::int64_t> seen;
  for (std::size_t i = 0, start = 0; i < all.size(); ++i) {
    const ElementId element = all[i].element;
    if (i == 0 || all[i].sorted != all[start].sorted) {
      start = i;
      seen = {0};
    }
    const bool new_group = seen.insert(group[element.position()]).second;
    const bool start_has_group = group[all[start].element.position()] != 0;
    first[element] = i > start && new_group && start_has_group ? all[start].element : element;
  }
  return first;
}

void MshReader::merge_repeated_elements() {
  if (version_4_) {
    return;
  }
  ShellMesh& mesh = content_.mesh;
  const PerElement<ElementId> first = first_of_repeats(mesh.elements, only_group_);
  PerElement<Element> elements;
  PerElement<std::int64_t> labels;
  PerElement<ElementId> new_id(mesh.elements.size());
  for (const ElementId element : mesh.elements.ids()) {
    if (first[element] == element) {
      new_id[element] = ElementId(elements.size());
      elements.push_back(mesh.elements[element]);
      labels.push_back(mesh.element_labels[element]);
    } else {
      new_id[element] = new_id[first[element]]; // the first has the lower index
    }
    if (only_group_[element.position()] != 0) {
      groups_.surfaces[only_group_[element.position()]].push_back(new_id[element]);
    }
  }
  const std::size_t merged = mesh.elements.size() - elements.size();
  if (merged > 0) {
    content_.notes.push_back(counted(merged, "element that repeats", "elements that repeat") +
                             " another one in a further physical group " +
                             (merged == 1 ? "is" : "are") + " merged with it.");
  }
  mesh.elements = std::move(elements);
  mesh.element_labels = std::move(labels);
}

void MshReader::check_element_labels() const {
  std::vector<std::int64_t> labels = content_.mesh.element_labels.values();
  std::ranges::sort(labels);
  const auto twice = std::ranges::adjacent_find(labels);
  if (twice != labels.end()) {
    throw InputError(file_name_ + ": element " + std::to_string(*twice) + " is given twice");
  }
}

std::string MshReader::group_name(std::int64_t dimension, std::int64_t number) {
  used_groups_.insert({dimension, number});
  const auto name = names_.find({dimension, number});
  return name != names_.end() && !name->second.empty()
             ? name->second
             : group_words[static_cast<std::size_t>(dimension)] + std::to_string(number);
}

void MshReader::make_sets() {
  ShellMesh& mesh = content_.mesh;
  for (auto& [number, nodes] : groups_.points) {
    mesh.node_sets.push_back({group_name(0, number), std::move(nodes)});
  }
  for (auto& [number, segments] : groups_.lines) {
    mesh.line_sets.push_back({group_name(1, number), std::move(segments)});
  }
  for (auto& [number, elements] : groups_.surfaces) {
    mesh.element_sets.push_back({group_name(2, number), std::move(elements)});
  }
  if (volume_elements_ > 0) {
    content_.notes.push_back(counted(volume_elements_, "volume element is", "volume elements are") +
                             " ignored: only the surface of the cavity is read.");
  }
  if (!unlisted_entities_.empty() && sections_.contains("Entities")) {
    content_.notes.push_back(
        "The elements of " +
        counted(unlisted_entities_.size(), "entity that is", "entities that are") +
        " not in $Entities are in no group.");
  }
  for (const auto& [key, name] : names_) {
    if (key.first < 3 && !used_groups_.contains(key)) { // known all the same, should a case name it
      content_.notes.push_back("The physical group " + in_quotes(name) + " has no elements.");
      mesh.element_sets.push_back({name, {}});
    }
  }
}

} // namespace

MeshContent parse_msh(std::string_view content, const std::string& file_name) {
  return MshReader(content, file_name).read();
}

} // namespace tidemark

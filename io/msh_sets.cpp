#include "io/msh_reader.hpp"

#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <array>
#include <limits>

namespace tidemark {

namespace {

constexpr std::array<const char*, 4> group_words{"point group ", "line group ", "group ",
                                                 "volume group "};

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

} // namespace

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

} // namespace tidemark

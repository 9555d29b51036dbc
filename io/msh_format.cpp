#include "io/msh_format.hpp"

#include "io/msh_reader.hpp"
#include "io/whole_file.hpp"

#include <algorithm>
#include <array>
#include <cstdlib>

namespace tidemark {

MeshContent MshReader::read() {
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

MeshContent parse_msh(std::string_view content, const std::string& file_name) {
  return MshReader(without_byte_order_mark(content), file_name).read();
}

} // namespace tidemark

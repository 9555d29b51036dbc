#include "io/obj_groups.hpp"

#include <algorithm>
#include <map>
#include <string>

namespace tidemark {

namespace {

constexpr std::string_view blanks = " \t\r";

// Takes the first word off the line; empty if there is none.
std::string_view next_word(std::string_view& line) {
  line.remove_prefix(std::min(line.find_first_not_of(blanks), line.size()));
  const std::string_view word = line.substr(0, line.find_first_of(blanks));
  line.remove_prefix(word.size());
  return word;
}

class Collector {
public:
  void read_line(std::string_view line) {
    const std::string_view word = next_word(line);
    if (word == "g") {
      groups_ = sets_named(line);
    } else if (word == "usemtl") {
      materials_ = sets_named(line);
    } else if (word == "f") {
      for (const auto* current : {&groups_, &materials_}) {
        for (const std::size_t set : *current) {
          add_face(result_.sets[set]);
        }
      }
      ++result_.faces;
    }
  }
  ObjGroups take() { return std::move(result_); }

private:
  std::vector<std::size_t> sets_named(std::string_view names) {
    std::vector<std::size_t> sets;
    for (auto name = next_word(names); !name.empty(); name = next_word(names)) {
      const auto [entry, is_new] = numbers_.try_emplace(std::string(name), result_.sets.size());
      if (is_new) {
        result_.sets.push_back({std::string(name), {}});
      }
      sets.push_back(entry->second);
    }
    return sets;
  }
  // A group and a material of one name are one set: the face goes in once.
  void add_face(ElementSet& set) {
    const ElementId face(result_.faces);
    if (set.elements.empty() || set.elements.back() != face) {
      set.elements.push_back(face);
    }
  }

  ObjGroups result_;
  std::map<std::string, std::size_t> numbers_;
  std::vector<std::size_t> groups_;
  std::vector<std::size_t> materials_;
};

} // namespace

ObjGroups obj_groups(std::string_view content) {
  Collector collector;
  while (!content.empty()) {
    const std::string_view line = content.substr(0, content.find('\n'));
    collector.read_line(line);
    content.remove_prefix(std::min(line.size() + 1, content.size()));
  }
  return collector.take();
}

} // namespace tidemark

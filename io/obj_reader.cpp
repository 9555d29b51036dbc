#include "io/obj_reader.hpp"

#include "io/msh_cursor.hpp"
#include "io/whole_file.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <limits>
#include <map>
#include <vector>

namespace tidemark {

namespace {

constexpr std::string_view blanks = " \t\r";

/// Takes the first word off the line; empty if there is none.
std::string_view next_word(std::string_view& line) {
  line.remove_prefix(std::min(line.find_first_not_of(blanks), line.size()));
  const std::string_view word = line.substr(0, line.find_first_of(blanks));
  line.remove_prefix(word.size());
  return word;
}

/// Of the first # with which a word begins; a name may have one in it.
std::size_t start_of_comment(std::string_view line) {
  std::size_t at = line.find('#');
  while (at != std::string_view::npos && at > 0 &&
         blanks.find(line[at - 1]) == std::string_view::npos) {
    at = line.find('#', at + 1);
  }
  return at;
}

template <class Number> bool parse(std::string_view word, Number& number) {
  if (word.size() > 1 && word[0] == '+' && word[1] != '-') {
    word.remove_prefix(1);
  }
  const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), number);
  return error == std::errc() && end == word.data() + word.size();
}

class ObjReader {
public:
  ObjReader(std::string_view content, const std::string& file_name)
      : content_(without_byte_order_mark(content)), file_name_(file_name) {}

  MeshContent read() {
    while (!content_.empty()) {
      read_line(next_line());
    }
    ShellMesh& mesh = result_.mesh;
    for (const ElementId face : mesh.elements.ids()) {
      mesh.element_labels.push_back(face.value() + std::int64_t{1});
      check_corners(face);
    }
    return std::move(result_);
  }

private:
  [[noreturn]] void fail(std::size_t line, const std::string& text) const {
    throw InputError(file_name_ + ": line " + std::to_string(line) + ": " + text);
  }

  /// Without its end; a line that ends with a backslash goes on in the next.
  std::string next_line() {
    std::string line;
    bool goes_on = true;
    first_line_ = line_ + 1;
    while (goes_on && !content_.empty()) {
      std::string_view part = content_.substr(0, content_.find('\n'));
      content_.remove_prefix(std::min(part.size() + 1, content_.size()));
      ++line_;
      while (!part.empty() && part.back() == '\r') {
        part.remove_suffix(1);
      }
      goes_on = !part.empty() && part.back() == '\\';
      line += part.substr(0, part.size() - (goes_on ? 1 : 0));
      line += goes_on ? " " : "";
    }
    return line;
  }

  void read_line(std::string_view line) {
    line = line.substr(0, start_of_comment(line));
    const std::string_view word = next_word(line);
    if (word == "v") {
      read_vertex(line);
    } else if (word == "f") {
      read_face(line);
    } else if (word == "g") {
      groups_ = sets_named(line);
    } else if (word == "usemtl") {
      materials_ = sets_named(line);
    }
  }

  /// Numbers beyond the third are a weight or a colour.
  void read_vertex(std::string_view line) {
    Vector3 position = Vector3::Zero();
    std::size_t count = 0;
    for (auto word = next_word(line); count < 3 || !word.empty(); word = next_word(line)) {
      double number = 0;
      if (word.empty() || !parse(word, number)) {
        fail(first_line_, word.empty() ? "a vertex of " + counted(count, "number", "numbers") +
                                             ", expected three coordinates"
                                       : "a coordinate is expected, found " + in_quotes(word));
      }
      if (!std::isfinite(number)) {
        fail(first_line_, "a coordinate is not a finite number, found " + in_quotes(word));
      }
      if (count < 3) {
        position[static_cast<Eigen::Index>(count)] = number;
      }
      ++count;
    }
    ShellMesh& mesh = result_.mesh;
    if (mesh.positions.size() >= std::numeric_limits<std::int32_t>::max()) {
      fail(first_line_, "there are more vertices than can be handled");
    }
    mesh.positions.push_back(position);
    mesh.node_labels.push_back(static_cast<std::int64_t>(mesh.positions.size()));
  }

  void read_face(std::string_view line) {
    Element element;
    std::size_t count = 0;
    for (auto word = next_word(line); !word.empty(); word = next_word(line)) {
      if (count < element.nodes.size()) {
        element.nodes[count] = corner(word);
      }
      ++count;
    }
    if (count < 3 || count > element.nodes.size()) {
      fail(first_line_, "a face of " + counted(count, "corner", "corners") +
                            "; only triangles and quadrilaterals are read");
    }
    for (const auto* current : {&groups_, &materials_}) {
      for (const std::size_t set : *current) {
        add_face(result_.mesh.element_sets[set]);
      }
    }
    result_.mesh.elements.push_back(element);
    face_lines_.push_back(first_line_);
  }

  /// A vertex as a face names it: "7", "7/2" or "7/2/1" from the first, "-1" from the last so far.
  NodeId corner(std::string_view word) const {
    std::int32_t number = 0;
    if (!parse(word.substr(0, word.find('/')), number) || number == 0) {
      fail(first_line_, "the number of a vertex is expected, found " + in_quotes(word));
    }
    if (number > 0) {
      return NodeId(number - 1); // which may still come
    }
    const auto so_far = static_cast<std::int64_t>(result_.mesh.positions.size());
    if (so_far + number < 0) {
      fail(first_line_, missing_vertex(number));
    }
    return NodeId(so_far + number);
  }

  void check_corners(ElementId face) const {
    for (const NodeId node : result_.mesh.elements[face].corners()) {
      if (node.position() >= result_.mesh.positions.size()) {
        fail(face_lines_[face.position()], missing_vertex(node.value() + std::int64_t{1}));
      }
    }
  }

  std::string missing_vertex(std::int64_t number) const {
    return "a face has vertex " + std::to_string(number) + ", but there are " +
           counted(result_.mesh.positions.size(), "vertex", "vertices");
  }

  std::vector<std::size_t> sets_named(std::string_view names) {
    std::vector<ElementSet>& all = result_.mesh.element_sets;
    std::vector<std::size_t> sets;
    for (auto name = next_word(names); !name.empty(); name = next_word(names)) {
      const auto [entry, is_new] = numbers_.try_emplace(std::string(name), all.size());
      if (is_new) {
        all.push_back({std::string(name), {}});
      }
      sets.push_back(entry->second);
    }
    return sets;
  }

  /// A group and a material of one name are one set: the face goes in once.
  void add_face(ElementSet& set) const {
    const ElementId face(result_.mesh.elements.size());
    if (set.elements.empty() || set.elements.back() != face) {
      set.elements.push_back(face);
    }
  }

  std::string_view content_; // what is still to be read
  const std::string& file_name_;
  MeshContent result_;
  std::map<std::string, std::size_t> numbers_;
  std::vector<std::size_t> groups_;
  std::vector<std::size_t> materials_;
  std::vector<std::size_t> face_lines_;
  std::size_t line_ = 0;       // of the file, read last
  std::size_t first_line_ = 0; // where what is being read begins
};

} // namespace

MeshContent parse_obj(std::string_view content, const std::string& file_name) {
  return ObjReader(content, file_name).read();
}

} // namespace tidemark

#include "io/mesh_content_bytes.hpp"

#include <algorithm>
#include <cstring>
#include <type_traits>

namespace tidemark {

namespace {

template <class T> constexpr bool is_plain_bytes = std::is_trivially_copyable_v<T>;
template <> constexpr bool is_plain_bytes<Vector3> = true; // three doubles

class Writer {
public:
  template <class T> void put(const std::vector<T>& values) {
    static_assert(is_plain_bytes<T>);
    put_raw(values.data(), values.size(), sizeof(T));
  }
  void put(const std::string& text) { put_raw(text.data(), text.size(), 1); }
  void put_count(std::size_t count) {
    bytes_.append(reinterpret_cast<const char*>(&count), sizeof count);
  }
  std::string take() { return std::move(bytes_); }

private:
  void put_raw(const void* data, std::size_t count, std::size_t size_each) {
    put_count(count);
    if (count > 0) {
      bytes_.append(static_cast<const char*>(data), count * size_each);
    }
  }
  std::string bytes_;
};

// Once the bytes run out every value is empty and good() is false.
class Reader {
public:
  explicit Reader(std::string_view bytes) : bytes_(bytes) {}
  template <class T> void get(std::vector<T>& values) {
    const std::size_t count = get_count(sizeof(T));
    values.resize(count);
    if (count > 0) {
      std::memcpy(static_cast<void*>(values.data()), bytes_.data(), count * sizeof(T));
      bytes_.remove_prefix(count * sizeof(T));
    }
  }
  void get(std::string& text) {
    const std::size_t count = get_count(1);
    text = bytes_.substr(0, count);
    bytes_.remove_prefix(count);
  }
  /// A count of things that take at least so many bytes each.
  std::size_t get_count(std::size_t bytes_each) {
    std::size_t count = 0;
    good_ = good_ && bytes_.size() >= sizeof count;
    if (good_) {
      std::memcpy(&count, bytes_.data(), sizeof count);
      bytes_.remove_prefix(sizeof count);
      good_ = count <= bytes_.size() / bytes_each;
    }
    return good_ ? count : 0;
  }
  [[nodiscard]] bool good() const { return good_; }
  [[nodiscard]] bool finished() const { return good_ && bytes_.empty(); }

private:
  std::string_view bytes_;
  bool good_ = true;
};

template <class Sets, class Member> void put_sets(Writer& writer, const Sets& sets, Member member) {
  writer.put_count(sets.size());
  for (const auto& set : sets) {
    writer.put(set.name);
    writer.put(set.*member);
  }
}

template <class Sets, class Member> void get_sets(Reader& reader, Sets& sets, Member member) {
  const std::size_t count = reader.get_count(2 * sizeof(std::size_t));
  for (std::size_t i = 0; i < count && reader.good(); ++i) {
    auto& set = sets.emplace_back();
    reader.get(set.name);
    reader.get(set.*member);
  }
}

void put_arrays(Writer& writer, const std::vector<ElementArray>& arrays) {
  writer.put_count(arrays.size());
  for (const ElementArray& array : arrays) {
    writer.put(array.name);
    writer.put(std::vector<std::size_t>{array.components, array.is_text ? std::size_t{1} : 0});
    writer.put(array.values);
  }
}

/// False if the arrays do not fit the elements.
bool get_arrays(Reader& reader, std::size_t elements, std::vector<ElementArray>& arrays) {
  const std::size_t count = reader.get_count(3 * sizeof(std::size_t));
  for (std::size_t i = 0; i < count && reader.good(); ++i) {
    ElementArray& array = arrays.emplace_back();
    std::vector<std::size_t> kind;
    reader.get(array.name);
    reader.get(kind);
    reader.get(array.values);
    if (kind.size() != 2) {
      return false;
    }
    array.components = kind[0];
    array.is_text = kind[1] != 0;
    if (!array.values.empty() && array.values.size() != array.components * elements) {
      return false;
    }
  }
  return true;
}

bool ids_in_range(const MeshContent& content) {
  const ShellMesh& mesh = content.mesh;
  const auto good_node = [&](NodeId node) {
    return node.valid() && node.position() < mesh.positions.size();
  };
  const auto good_element = [&](ElementId element) {
    return element.valid() && element.position() < mesh.elements.size();
  };
  const auto good_corners = [&](const Element& element) {
    return std::ranges::all_of(std::span(element.nodes).first(3), good_node) &&
           (!element.is_quad() || good_node(element.nodes[3]));
  };
  return mesh.node_labels.size() == mesh.positions.size() &&
         mesh.element_labels.size() == mesh.elements.size() &&
         std::ranges::all_of(mesh.elements, good_corners) &&
         std::ranges::all_of(content.mid_side_nodes, good_node) &&
         std::ranges::all_of(
             mesh.node_sets,
             [&](const NodeSet& set) { return std::ranges::all_of(set.nodes, good_node); }) &&
         std::ranges::all_of(mesh.line_sets,
                             [&](const LineSet& set) {
                               return std::ranges::all_of(set.segments, [&](const auto& segment) {
                                 return std::ranges::all_of(segment, good_node);
                               });
                             }) &&
         std::ranges::all_of(mesh.element_sets, [&](const ElementSet& set) {
           return std::ranges::all_of(set.elements, good_element);
         });
}

} // namespace

std::string to_bytes(const MeshContent& content) {
  Writer writer;
  const ShellMesh& mesh = content.mesh;
  writer.put(mesh.positions.values());
  writer.put(mesh.elements.values());
  writer.put(mesh.node_labels.values());
  writer.put(mesh.element_labels.values());
  put_sets(writer, mesh.node_sets, &NodeSet::nodes);
  put_sets(writer, mesh.line_sets, &LineSet::segments);
  put_sets(writer, mesh.element_sets, &ElementSet::elements);
  put_arrays(writer, mesh.element_arrays);
  writer.put_count(content.notes.size());
  for (const std::string& note : content.notes) {
    writer.put(note);
  }
  writer.put(content.mid_side_nodes);
  // A vector, so that the reader's check of counts against the bytes left does not apply.
  writer.put(std::vector<std::size_t>{content.second_order_elements});
  return writer.take();
}

std::optional<MeshContent> from_bytes(std::string_view bytes) {
  Reader reader(bytes);
  MeshContent content;
  ShellMesh& mesh = content.mesh;
  reader.get(mesh.positions.values());
  reader.get(mesh.elements.values());
  reader.get(mesh.node_labels.values());
  reader.get(mesh.element_labels.values());
  get_sets(reader, mesh.node_sets, &NodeSet::nodes);
  get_sets(reader, mesh.line_sets, &LineSet::segments);
  get_sets(reader, mesh.element_sets, &ElementSet::elements);
  const bool arrays_fit = get_arrays(reader, mesh.elements.size(), mesh.element_arrays);
  const std::size_t notes = reader.get_count(sizeof(std::size_t));
  for (std::size_t i = 0; i < notes && reader.good(); ++i) {
    reader.get(content.notes.emplace_back());
  }
  reader.get(content.mid_side_nodes);
  std::vector<std::size_t> second_order;
  reader.get(second_order);
  if (!reader.finished() || !arrays_fit || second_order.size() != 1 || !ids_in_range(content)) {
    return std::nullopt;
  }
  content.second_order_elements = second_order[0];
  return content;
}

} // namespace tidemark

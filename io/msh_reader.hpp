// What reads an MSH file from start to end, and what it holds on the way. Its functions are in
// msh_format (sections, names, entities), msh_elements (nodes and elements) and msh_sets (what is
// made of them when all is read).
#pragma once

#include "io/label_index.hpp"
#include "io/mesh_content.hpp"
#include "io/msh_cursor.hpp"

#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace tidemark {

struct ElementType {
  std::int64_t number;
  int dimension;
  std::size_t corners; // of points, lines and surfaces
  std::size_t nodes;
};

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

  MeshContent read();

private:
  void read_format();
  void read_section();
  void expect_end(const std::string& section);
  void skip_section(const std::string& section);
  void read_names();
  void read_entities();
  void read_entity(int dimension);
  void read_nodes_2();
  struct BlockCounts {
    std::size_t blocks, total; // total: of nodes or elements in all blocks
  };
  BlockCounts read_block_counts(const std::string& kind, std::size_t numbers_each,
                                std::size_t bytes_each);
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

} // namespace tidemark

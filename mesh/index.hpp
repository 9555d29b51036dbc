// Indices that cannot be mixed up: a NodeId never goes where an ElementId is due, and an array
// of one value per node is read with a NodeId only.
#pragma once

#include <compare>
#include <concepts>
#include <cstddef>
#include <cstdint>
#include <initializer_list>
#include <iterator>
#include <utility>
#include <vector>

namespace tidemark {

template <class Tag> class Index {
public:
  using Value = std::int32_t;
  constexpr Index() = default;
  constexpr explicit Index(std::integral auto value) : value_(static_cast<Value>(value)) {}
  [[nodiscard]] constexpr Value value() const { return value_; }
  [[nodiscard]] constexpr std::size_t position() const { return static_cast<std::size_t>(value_); }
  [[nodiscard]] constexpr bool valid() const { return value_ >= 0; }
  constexpr auto operator<=>(const Index&) const = default;

private:
  Value value_ = -1;
};

using NodeId = Index<struct NodeTag>;
using ElementId = Index<struct ElementTag>;   // a triangle or quadrilateral of the user's mesh
using TriangleId = Index<struct TriangleTag>; // a triangle after quadrilaterals are split
using RegionId = Index<struct RegionTag>;

/// The first `count` indices: for (NodeId node : IdRange<NodeId>(count)). A loop of its own, since
/// clang 14 cannot compile libstdc++ 12's std::views.
template <class Id> class IdRange {
public:
  class Iterator {
  public:
    using value_type = Id;
    using difference_type = std::ptrdiff_t;
    using iterator_category = std::forward_iterator_tag;
    constexpr Iterator() = default;
    constexpr explicit Iterator(typename Id::Value value) : value_(value) {}
    constexpr Id operator*() const { return Id(value_); }
    constexpr Iterator& operator++() {
      ++value_;
      return *this;
    }
    constexpr Iterator operator++(int) { return Iterator(value_++); }
    constexpr bool operator==(const Iterator&) const = default;

  private:
    typename Id::Value value_ = 0;
  };
  constexpr explicit IdRange(std::size_t count) : end_(static_cast<typename Id::Value>(count)) {}
  [[nodiscard]] constexpr Iterator begin() const { return Iterator(0); }
  [[nodiscard]] constexpr Iterator end() const { return Iterator(end_); }

private:
  typename Id::Value end_;
};

/// One value per index, in index order.
template <class Id, class T> class Indexed {
public:
  using value_type = T;
  using reference = typename std::vector<T>::reference;
  using const_reference = typename std::vector<T>::const_reference;

  Indexed() = default;
  explicit Indexed(std::size_t count, const T& value = T{}) : values_(count, value) {}
  explicit Indexed(std::vector<T> values) : values_(std::move(values)) {}
  Indexed(std::initializer_list<T> values) : values_(values) {}

  reference operator[](Id id) { return values_[id.position()]; }
  const_reference operator[](Id id) const { return values_[id.position()]; }
  [[nodiscard]] std::size_t size() const { return values_.size(); }
  [[nodiscard]] bool empty() const { return values_.empty(); }
  auto begin() { return values_.begin(); }
  auto end() { return values_.end(); }
  auto begin() const { return values_.begin(); }
  auto end() const { return values_.end(); }
  void push_back(T value) { values_.push_back(std::move(value)); }
  void reserve(std::size_t count) { values_.reserve(count); }
  /// The values as a plain vector, in index order.
  [[nodiscard]] const std::vector<T>& values() const { return values_; }
  [[nodiscard]] std::vector<T>& values() { return values_; }
  /// All indices, first to last: for (NodeId node : positions.ids()).
  [[nodiscard]] auto ids() const { return IdRange<Id>(values_.size()); }
  bool operator==(const Indexed&) const = default;

private:
  std::vector<T> values_;
};

template <class T> using PerNode = Indexed<NodeId, T>;
template <class T> using PerElement = Indexed<ElementId, T>;
template <class T> using PerTriangle = Indexed<TriangleId, T>;

} // namespace tidemark

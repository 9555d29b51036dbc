#include "io/field_values.hpp"

#include "io/number_text.hpp"
#include "io/raw_lookup.hpp"
#include "io/wording.hpp"

#include <algorithm>

namespace tidemark {

namespace {

/// The array a region names, with so many numbers for each element; none after an error.
const ElementArray* array_named(const MeshContext& context, const RawArray& given,
                                std::size_t components) {
  const auto& arrays = context.mesh.element_arrays;
  const std::string& name = given.array->value;
  const auto report = [&](const std::string& text) {
    add_error(context.findings, given.array->line, given.key + ".array",
              "found " + quoted_text(name) + text);
  };
  const auto found = std::ranges::find(arrays, name, &ElementArray::name);
  if (found == arrays.end()) {
    std::vector<std::string> names;
    for (const ElementArray& array : arrays) {
      names.push_back(array.name);
    }
    report(", expected an array on the elements of the mesh (cell data): " +
           list_with_nearest(name, names));
    return nullptr;
  }
  if (found->is_text) {
    report(", an array of text, expected one of numbers");
    return nullptr;
  }
  if (found->components != components) {
    report(", which has " + std::to_string(found->components) +
           (found->components == 1 ? " number" : " numbers") + " for each element, expected " +
           (components == 1 ? "one" : "three"));
    return nullptr;
  }
  return &*found;
}

/// "found -1 in the array "t" at element 17 at [0, 0, 0] and at 3 more elements"
std::string found_text(const MeshContext& context, const RawArray& given, const std::string& value,
                       ElementId first, std::size_t count) {
  return "found " + value + (given.unit_name.empty() ? "" : " " + given.unit_name) +
         " in the array " + quoted_text(given.array->value) + " at " +
         element_text(context, first) +
         (count > 1 ? " and the like at " + std::to_string(count - 1) + " more" : "");
}

/// The first of the values outside a range, and how many there are.
struct Outside {
  std::size_t first = 0;
  std::size_t count = 0;
};

Outside outside(const std::vector<double>& values, double low, double high) {
  Outside result;
  for (std::size_t i = values.size(); i-- > 0;) {
    if (!(values[i] >= low && values[i] <= high)) {
      result = {i, result.count + 1};
    }
  }
  return result;
}

} // namespace

std::optional<std::vector<double>> field_numbers(const MeshContext& context, const RawArray& given,
                                                 const std::vector<ElementId>& elements,
                                                 const Limits& limits) {
  const ElementArray* array = array_named(context, given, 1);
  if (array == nullptr) {
    return std::nullopt;
  }
  std::vector<double> values;
  values.reserve(elements.size());
  for (const ElementId element : elements) {
    values.push_back(array->values[element.position()] * given.unit);
  }
  const auto text_of = [&](const Outside& where) {
    const ElementId first = elements[where.first];
    return found_text(context, given, plain_number(array->values[first.position()]), first,
                      where.count);
  };
  if (const auto wrong = outside(values, limits.low, limits.high); wrong.count > 0) {
    add_error(context.findings, given.line, given.key,
              text_of(wrong) + ", expected " + limits.expected);
    return std::nullopt;
  }
  if (const auto odd = outside(values, limits.usual_low, limits.usual_high); odd.count > 0) {
    add_warning(context.findings, given.line, given.key,
                text_of(odd) + ", which is unusual: " + limits.advice);
  }
  return values;
}

std::optional<std::vector<Vector3>> field_directions(const MeshContext& context,
                                                     const RawArray& given,
                                                     const std::vector<ElementId>& elements) {
  const ElementArray* array = array_named(context, given, 3);
  if (array == nullptr) {
    return std::nullopt;
  }
  std::vector<Vector3> directions;
  directions.reserve(elements.size());
  std::vector<double> lengths; // 1, or 0 where it is none
  for (const ElementId element : elements) {
    const Vector3 vector(&array->values[3 * element.position()]);
    const bool is_good = vector.allFinite() && vector.cwiseAbs().maxCoeff() > 0;
    directions.push_back(is_good ? unit_vector(vector) : Vector3::Zero());
    lengths.push_back(is_good ? 1 : 0);
  }
  if (const auto wrong = outside(lengths, 1, 1); wrong.count > 0) {
    const ElementId first = elements[wrong.first];
    const double* const at = &array->values[3 * first.position()];
    const std::string value =
        "[" + plain_number(at[0]) + ", " + plain_number(at[1]) + ", " + plain_number(at[2]) + "]";
    add_error(context.findings, given.line, given.key,
              found_text(context, given, value, first, wrong.count) +
                  ", expected a direction: three finite numbers, not all of them zero");
    return std::nullopt;
  }
  return directions;
}

} // namespace tidemark

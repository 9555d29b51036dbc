// What several checks look up in a case as it was written.
#pragma once

#include "io/raw_case.hpp"
#include "solver/fill_problem.hpp"

#include <optional>
#include <string_view>
#include <vector>

namespace tidemark {

constexpr double default_ambient = 101325;   // [Pa]
constexpr double standard_gravity = 9.80665; // [m/s2]

double value_or_zero(const Maybe<double>& given);
std::optional<double> value_or_none(const Maybe<double>& given);

/// Length 1, without overflow on the way; zero stays zero.
Vector3 unit_vector(const Vector3& vector);

/// The lowest pressure given for a vent; none without one.
Maybe<double> lowest_vent_pressure(const RawCase& raw);

/// The gate and the vent of that name: none, one or two.
std::vector<PortRef> ports_named(const RawCase& raw, std::string_view name);

} // namespace tidemark

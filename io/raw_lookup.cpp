#include "io/raw_lookup.hpp"

namespace tidemark {

double value_or_zero(const Maybe<double>& given) {
  return given ? given->value : 0;
}

std::optional<double> value_or_none(const Maybe<double>& given) {
  return given ? std::optional(given->value) : std::nullopt;
}

Vector3 unit_vector(const Vector3& vector) {
  const double largest = vector.cwiseAbs().maxCoeff();
  return largest > 0 ? Vector3((vector / largest).normalized()) : Vector3(Vector3::Zero());
}

Maybe<double> lowest_vent_pressure(const RawCase& raw) {
  Maybe<double> lowest;
  for (const RawVent& vent : raw.vents) {
    if (vent.pressure && (!lowest || vent.pressure->value < lowest->value)) {
      lowest = vent.pressure;
    }
  }
  return lowest;
}

std::vector<PortRef> ports_named(const RawCase& raw, std::string_view name) {
  std::vector<PortRef> ports;
  const auto add = [&](PortRef::Kind kind, const auto& list) {
    for (std::size_t i = 0; i < list.size(); ++i) {
      if (list[i].port.name && list[i].port.name->value == name) {
        ports.push_back({kind, i});
      }
    }
  };
  add(PortRef::Kind::gate, raw.gates);
  add(PortRef::Kind::vent, raw.vents);
  return ports;
}

} // namespace tidemark

#include "io/region_fields.hpp"

#include "io/draped_region.hpp"
#include "io/field_values.hpp"
#include "io/laid_stack.hpp"
#include "io/layup_check.hpp"
#include "io/number_text.hpp"
#include "io/raw_lookup.hpp"
#include "io/region_check.hpp"
#include "io/spoken.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"
#include "mesh/surface_walk.hpp"
#include "solver/varied_problem.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>

namespace tidemark {

namespace {

using std::numbers::pi;
constexpr double degree = pi / 180;

constexpr Limits fraction_limits{1e-3,
                                 0.9,
                                 0.05,
                                 0.75,
                                 "a fibre volume fraction above 0 (from 0.001 to 0.9)",
                                 "0.05 to 0.75 are usual; is the unit right (1, %)?"};
constexpr Limits shear_limits{-85 * degree,
                              85 * degree,
                              -75 * degree,
                              75 * degree,
                              "a shear angle of less than 85 deg either way",
                              "up to 75 deg are usual; is the unit right (deg, rad)?"};

// --- findings of many elements -----------------------------------------------------------------

std::string without_numbers(const std::string& text) {
  std::string rest;
  std::ranges::copy_if(text, std::back_inserter(rest), [](char c) {
    return (c < '0' || c > '9') && c != '.' && c != '-' && c != 'e';
  });
  return rest;
}

/// What is found at many elements in the same words, numbers apart, becomes one finding: that of
/// the element whose stack is the most closed, or the least if its words are of too little.
class SharedFindings {
public:
  /// Adds what was found at one element; returns which of the shared ones that is.
  std::vector<std::size_t> add(const Findings& found, ElementId element, double openness) {
    std::vector<std::size_t> which;
    for (const bool is_error : {true, false}) {
      for (const Finding& finding : is_error ? found.errors : found.warnings) {
        which.push_back(add(finding, is_error, element, openness));
      }
    }
    return which;
  }
  void count(const std::vector<std::size_t>& which) {
    for (const std::size_t i : which) {
      ++shared_[i].elements;
    }
  }
  void report(const MeshContext& context) const {
    for (const Shared& shared : shared_) {
      const std::string where =
          "; so at " + element_text(context, shared.worst) +
          (shared.elements > 1 ? " and at " + std::to_string(shared.elements - 1) + " more" : "");
      (shared.is_error ? context.findings.errors : context.findings.warnings)
          .push_back({shared.finding.line, shared.finding.text + where});
    }
  }

private:
  struct Shared {
    Finding finding;
    bool is_error;
    ElementId worst;
    double openness; // of the worst
    std::size_t elements = 0;
  };
  std::size_t add(const Finding& finding, bool is_error, ElementId element, double openness) {
    const auto [at, is_new] =
        index_.try_emplace({finding.line, without_numbers(finding.text)}, shared_.size());
    if (is_new) {
      shared_.push_back({finding, is_error, element, openness});
    }
    Shared& shared = shared_[at->second];
    const bool is_too_open = finding.text.find(" below ") != std::string::npos ||
                             finding.text.find("wash the fibres away") != std::string::npos;
    if (is_too_open ? openness > shared.openness : openness < shared.openness) {
      shared.finding = finding;
      shared.worst = element;
      shared.openness = openness;
    }
    return at->second;
  }
  std::vector<Shared> shared_;
  std::map<std::pair<int, std::string>, std::size_t> index_;
};

// --- how the plies lie -------------------------------------------------------------------------

/// How the plies of a region lie on each of its elements. Angles count from `direction` towards
/// the side on which the weft is: right-handed about the element's normal for side 1, the other
/// way for -1.
struct Lay {
  std::vector<Vector3> direction;
  std::vector<double> side;
  std::vector<double> angle;                // of angle 0 from the direction [rad]
  std::vector<std::vector<double>> ply;     // angle of each entry of the layup from angle 0 [rad]
  std::vector<std::vector<double>> shear;   // of each entry [rad]
  std::vector<std::size_t> sheared_entries; // those that shear at all
};

bool is_woven(const RawCase& raw, const RawPly& ply) {
  const RawFabric* fabric = ply.fabric ? fabric_named(raw, ply.fabric->value) : nullptr;
  return fabric != nullptr && (!fabric->woven || fabric->woven->value);
}

std::vector<std::size_t> woven_entries(const RawCase& raw, const RawLayup& layup) {
  std::vector<std::size_t> entries;
  for (std::size_t i = 0; i < layup.plies.size(); ++i) {
    if (is_woven(raw, layup.plies[i])) {
      entries.push_back(i);
    }
  }
  return entries;
}

/// As written: the same on all elements.
std::vector<double> written_angles(const RawLayup& layup) {
  std::vector<double> angles;
  for (const RawPly& ply : layup.plies) {
    angles.push_back(value_or_zero(ply.angle));
  }
  return angles;
}

std::optional<std::vector<Vector3>> directions_of(const MeshContext& context,
                                                  const RegionPart& part) {
  if (part.raw.fields.direction) {
    return field_directions(context, *part.raw.fields.direction, part.elements);
  }
  const Vector3 one = part.raw.direction ? unit_vector(part.raw.direction->value) : Vector3::Zero();
  return std::vector<Vector3>(part.elements.size(), one);
}

std::optional<std::vector<double>> angles_of(const MeshContext& context, const RegionPart& part) {
  if (part.raw.fields.angle) {
    return field_numbers(context, *part.raw.fields.angle, part.elements, angle_limits);
  }
  return std::vector<double>(part.elements.size(), value_or_zero(part.raw.angle));
}

/// Without a drape: by direction and angle, given once or by arrays.
std::optional<Lay> lay_by_direction(const MeshContext& context, const RegionPart& part) {
  auto directions = directions_of(context, part);
  auto angles = angles_of(context, part);
  if (!directions || !angles) {
    return std::nullopt;
  }
  Lay lay;
  lay.direction = std::move(*directions);
  lay.angle = std::move(*angles);
  lay.side.assign(part.elements.size(), 1);
  const RawLayup* layup = layup_of(part.raw);
  const auto plies = layup == nullptr ? std::vector<double>() : written_angles(*layup);
  lay.ply.assign(part.elements.size(), plies);
  lay.shear.assign(part.elements.size(), std::vector<double>(plies.size(), 0));
  return lay;
}

void report_no_woven(const MeshContext& context, const RegionPart& part, const std::string& key) {
  const int line = part.raw.drape ? part.raw.drape->line : part.raw.fields.shear->line;
  add_error(context.findings, line, key,
            "found it for a layup without a woven fabric, expected one that shears");
}

/// Quarters of a turn from angle 0 to a ply; none if it lies at another angle.
std::optional<int> quarter_turns(double angle) {
  const double quarters = std::round(angle / (pi / 2));
  const bool is_even = std::abs(angle - quarters * pi / 2) < 1e-9;
  return is_even ? std::optional(static_cast<int>(std::remainder(quarters, 4))) : std::nullopt;
}

/// Shears the woven plies by an array: those at 0 by what it says. A ply at a right angle to them
/// shares their yarns: its warp is their weft, and it closes where they open.
bool shear_by_array(const MeshContext& context, const RegionPart& part, Lay& lay) {
  const RawArray& given = *part.raw.fields.shear;
  const RawLayup& layup = *layup_of(part.raw);
  lay.sheared_entries = woven_entries(context.raw, layup);
  if (lay.sheared_entries.empty()) {
    report_no_woven(context, part, given.key);
    return false;
  }
  const auto shear = field_numbers(context, given, part.elements, shear_limits);
  if (!shear) {
    return false;
  }
  for (const std::size_t entry : lay.sheared_entries) {
    const RawPly& ply = layup.plies[entry];
    const auto quarters = quarter_turns(value_or_zero(ply.angle));
    if (!quarters) {
      add_error(context.findings, ply.line, ply.key + ".angle",
                "found " + quoted_text(ply.angle->text) +
                    " where shear is given by an array, expected 0 deg or 90 deg, since cloth laid "
                    "at another angle shears otherwise; drape lays a net for each angle");
      return false;
    }
    const bool is_across = *quarters % 2 != 0;
    for (std::size_t i = 0; i < shear->size(); ++i) {
      lay.shear[i][entry] = is_across ? -(*shear)[i] : (*shear)[i];
      lay.ply[i][entry] -= is_across ? (*shear)[i] : 0;
    }
  }
  return true;
}

/// Yarns of woven plies, one net for each angle at which some are laid.
struct Net {
  double angle;
  std::vector<Yarns> yarns; // in the order of the region's elements
};

std::optional<std::vector<Net>> nets_of(const MeshContext& context, const RegionPart& part,
                                        const std::vector<std::size_t>& entries) {
  std::vector<Net> nets;
  for (const std::size_t entry : entries) {
    const double angle = value_or_zero(layup_of(part.raw)->plies[entry].angle);
    if (std::ranges::count(nets, angle, &Net::angle) > 0) {
      continue;
    }
    auto yarns = draped_yarns(context, part, value_or_zero(part.raw.angle) + angle);
    if (!yarns) {
      return std::nullopt;
    }
    nets.push_back({angle, std::move(*yarns)});
  }
  return nets;
}

/// By a drape: angles count from the warp of the first net. What is not woven keeps its angle to
/// that warp and does not shear.
std::optional<Lay> lay_by_drape(const MeshContext& context, const RegionPart& part) {
  const RawLayup& layup = *layup_of(part.raw);
  const RawDrape& drape = *part.raw.drape;
  if (!drape.start || !drape.direction || drape.direction->value.isZero(0)) {
    return std::nullopt;
  }
  Lay lay;
  lay.sheared_entries = woven_entries(context.raw, layup);
  if (lay.sheared_entries.empty()) {
    report_no_woven(context, part, drape.key);
    return std::nullopt;
  }
  const auto nets = nets_of(context, part, lay.sheared_entries);
  if (!nets) {
    return std::nullopt;
  }
  std::vector<double> flat = written_angles(layup);
  std::ranges::transform(flat, flat.begin(), [&](double a) { return a - nets->front().angle; });
  for (std::size_t i = 0; i < part.elements.size(); ++i) {
    const Yarns& first = nets->front().yarns[i];
    const Vector3 normal = element_normal(context.mesh, part.elements[i]);
    const double side = normal.dot(first.warp.cross(first.weft)) < 0 ? -1 : 1;
    lay.direction.push_back(first.warp);
    lay.side.push_back(side);
    lay.angle.push_back(0);
    lay.ply.push_back(flat);
    lay.shear.emplace_back(flat.size(), 0.0);
    for (const std::size_t entry : lay.sheared_entries) {
      const double laid_at = value_or_zero(layup.plies[entry].angle);
      const Yarns& yarns = std::ranges::find(*nets, laid_at, &Net::angle)->yarns[i];
      lay.shear[i][entry] = yarns.shear;
      lay.ply[i][entry] =
          laid_at == nets->front().angle ? 0 : angle_between(first.warp, yarns.warp, side * normal);
    }
  }
  return lay;
}

std::optional<Lay> lay_of(const MeshContext& context, const RegionPart& part) {
  if (part.raw.drape) {
    return lay_by_drape(context, part);
  }
  auto lay = lay_by_direction(context, part);
  if (lay && part.raw.fields.shear && !shear_by_array(context, part, *lay)) {
    return std::nullopt;
  }
  return lay;
}

/// A warning for each fabric that is sheared beyond its locking angle.
void warn_of_locking(const MeshContext& context, const RegionPart& part, const Lay& lay) {
  const std::string key = part.raw.key + (part.raw.drape ? ".drape" : ".shear");
  const int line = part.raw.drape          ? part.raw.drape->line
                   : part.raw.fields.shear ? part.raw.fields.shear->line
                                           : part.raw.line;
  for (const std::size_t entry : lay.sheared_entries) {
    const RawPly& ply = layup_of(part.raw)->plies[entry];
    const RawFabric& fabric = *fabric_named(context.raw, ply.fabric->value);
    double locked = 0;
    double whole = 0;
    std::size_t worst = 0;
    for (std::size_t i = 0; i < part.elements.size(); ++i) {
      const double area = element_area(context.mesh, part.elements[i]);
      const double shear = std::abs(lay.shear[i][entry]);
      whole += area;
      locked += fabric.locking_angle && shear > fabric.locking_angle->value ? area : 0;
      worst = shear > std::abs(lay.shear[worst][entry]) ? i : worst;
    }
    if (locked > 0) {
      add_warning(context.findings, line, key,
                  "found " + ply.key + " (" + quoted_text(fabric.name) + ") sheared by up to " +
                      rough_number(std::abs(lay.shear[worst][entry]) / degree) + " deg, at " +
                      element_text(context, part.elements[worst]) +
                      ", beyond its locking angle of " + quoted_text(fabric.locking_angle->text) +
                      " on " + rough_number(100 * locked / whole) +
                      " % of the region: it wrinkles there unless it is cut or darted");
    }
  }
}

// --- what the plies make -----------------------------------------------------------------------

/// Cavity thickness at each element [m]; none after an error.
std::optional<std::vector<double>> thicknesses(const MeshContext& context, const RegionPart& part,
                                               const std::optional<Layup>& layup) {
  if (part.raw.fields.thickness) {
    return field_numbers(context, *part.raw.fields.thickness, part.elements, thickness_limits);
  }
  if (part.raw.fields.fibre_volume_fraction && layup) {
    auto values = field_numbers(context, *part.raw.fields.fibre_volume_fraction, part.elements,
                                fraction_limits);
    if (values && solid_thickness(*layup) > 0) {
      for (double& value : *values) {
        value = thickness_for(*layup, value);
      }
      return values;
    }
    if (values) {
      add_error(context.findings, part.raw.fields.fibre_volume_fraction->line,
                part.raw.fields.fibre_volume_fraction->key,
                "found it for a layup without a fabric, expected thickness");
    }
    return std::nullopt;
  }
  const auto one = layup ? cavity_thickness(part.raw, *layup_of(part.raw), *layup)
                         : value_or_none(part.raw.thickness);
  return one && *one > 0 ? std::optional(std::vector<double>(part.elements.size(), *one))
                         : std::nullopt;
}

Layup laid(Layup layup, const std::vector<double>& angles, const std::vector<double>& shear) {
  for (std::size_t entry = 0; entry < layup.entries.size(); ++entry) {
    if (auto* plies = std::get_if<FabricPlies>(&layup.entries[entry])) {
      plies->angle = angles[entry];
      plies->shear = shear[entry];
    } else {
      std::get<FixedLayer>(layup.entries[entry]).angle = angles[entry];
    }
  }
  return layup;
}

double largest(const std::vector<double>& shear) {
  return shear.empty() ? 0
                       : *std::ranges::max_element(shear, {}, [](double s) { return std::abs(s); });
}

Reinforcement made_of(const ClosedStack& stack) {
  return {stack.thickness,
          stack.porosity,
          stack.permeability_1,
          stack.permeability_2,
          Vector3::Zero(),
          stack.angle,
          stack.fibre_volume_fraction,
          0,
          stack.closing_pressure.value_or(0)};
}

/// What a layup makes of the elements of a region; elements on which it lies alike share one stack.
bool put_stacks(const MeshContext& context, const RegionPart& part, const Layup& layup,
                const std::vector<double>& thickness, const Lay& lay, FillProblem& problem) {
  struct Closed {
    std::optional<Reinforcement> made; // with the angle from that of the element
    std::vector<std::size_t> findings;
  };
  std::map<std::vector<double>, Closed> known;
  SharedFindings shared;
  bool is_good = true;
  for (std::size_t i = 0; i < part.elements.size(); ++i) {
    std::vector<double> key{thickness[i]};
    key.insert(key.end(), lay.ply[i].begin(), lay.ply[i].end());
    key.insert(key.end(), lay.shear[i].begin(), lay.shear[i].end());
    const auto [at, is_new] = known.try_emplace(std::move(key));
    Closed& closed = at->second;
    if (is_new) {
      const Layup here = laid(layup, lay.ply[i], lay.shear[i]);
      Findings found{context.findings.file, {}, {}};
      const auto stack = checked_stack(context.raw, part.raw, here, thickness[i], found);
      closed.made = stack ? std::optional(made_of(*stack)) : std::nullopt;
      const double openness = room_for_fabrics(here, thickness[i]) / solid_thickness(here);
      closed.findings = shared.add(found, part.elements[i], openness);
    }
    shared.count(closed.findings);
    is_good = is_good && closed.made.has_value();
    if (closed.made) {
      Reinforcement& local = problem.reinforcement[part.elements[i]];
      local = *closed.made;
      local.angle = lay.angle[i] + lay.side[i] * local.angle;
      local.shear = largest(lay.shear[i]);
      if (local.permeability_1 != local.permeability_2) {
        local.direction = lay.direction[i];
      }
    }
  }
  shared.report(context);
  return is_good;
}

bool put_direct(const RegionPart& part, const std::vector<double>& thickness, const Lay& lay,
                FillProblem& problem) {
  const Region& region = problem.regions[part.id.position()];
  const bool is_isotropic = region.permeability_1 == region.permeability_2;
  for (std::size_t i = 0; i < part.elements.size(); ++i) {
    problem.reinforcement[part.elements[i]] = {thickness[i],
                                               region.porosity,
                                               region.permeability_1,
                                               region.permeability_2,
                                               is_isotropic ? Vector3(Vector3::Zero())
                                                            : lay.direction[i],
                                               lay.angle[i],
                                               fibre_volume_fraction(region)};
  }
  return true;
}

void check_has_direction(const MeshContext& context, const RegionPart& part,
                         const FillProblem& problem) {
  // Where it is needed for the shear its lack has been reported.
  const bool has_direction = part.raw.has_direction || part.raw.drape || part.raw.fields.shear;
  const bool is_isotropic = std::ranges::all_of(part.elements, [&](ElementId element) {
    const Reinforcement& local = problem.reinforcement[element];
    return local.permeability_1 == local.permeability_2;
  });
  if (!has_direction && !is_isotropic) {
    add_error(context.findings, part.raw.line, part.raw.key + ".direction",
              "found no such key, expected where K1 points such as [1, 0, 0], since K1 and K2 "
              "differ");
  }
}

void put_means(const RegionPart& part, FillProblem& problem) {
  Region& region = problem.regions[part.id.position()];
  double area = 0;
  double volume = 0;
  double pores = 0;
  double fibres = 0;
  double k1 = 0;
  double k2 = 0;
  for (const ElementId element : part.elements) {
    const Reinforcement& local = problem.reinforcement[element];
    const double here = element_area(problem.mesh, element);
    area += here;
    volume += here * local.thickness;
    pores += here * local.thickness * local.porosity;
    fibres += here * local.fibre_volume_fraction;
    k1 += here * local.permeability_1;
    k2 += here * local.permeability_2;
  }
  region.thickness = volume / area;
  region.porosity = pores / volume;
  region.fibre_volume_fraction = fibres / area;
  region.permeability_1 = k1 / area;
  region.permeability_2 = k2 / area;
}

bool is_readable(const RawRegion& raw) {
  const RawFields& fields = raw.fields;
  const std::array all{&fields.thickness, &fields.fibre_volume_fraction, &fields.direction,
                       &fields.angle, &fields.shear};
  return std::ranges::all_of(all,
                             [](const auto* field) { return !*field || (*field)->is_readable; });
}

/// False where something is wrong, which has been reported.
bool put_region(const MeshContext& context, const RegionPart& part, FillProblem& problem) {
  const RawLayup* written = layup_of(part.raw);
  const auto layup = written == nullptr ? std::nullopt : make_layup(context.raw, *written);
  if (!is_readable(part.raw) || (written != nullptr && !layup) ||
      ((part.raw.drape || part.raw.fields.shear) && !layup)) {
    return false;
  }
  const auto lay = lay_of(context, part);
  const auto thickness = thicknesses(context, part, layup);
  if (!lay || !thickness) {
    return false;
  }
  warn_of_locking(context, part, *lay);
  const bool is_put = layup ? put_stacks(context, part, *layup, *thickness, *lay, problem)
                            : put_direct(part, *thickness, *lay, problem);
  if (is_put) {
    check_has_direction(context, part, problem);
    put_means(part, problem);
  }
  return is_put;
}

} // namespace

void put_varying_reinforcement(const MeshContext& context, FillProblem& problem) {
  const std::vector<RawRegion>& regions = context.raw.regions;
  if (std::ranges::none_of(regions, varies)) {
    return;
  }
  const Reinforcement none{0, 0, 0, 0, Vector3::Zero(), 0, 0};
  PerElement<Reinforcement> all(problem.element_region.size(), none);
  for (const ElementId element : all.ids()) {
    if (problem.element_region[element].valid()) {
      all[element] = reinforcement_at(problem, element);
    }
  }
  problem.reinforcement = std::move(all);
  for (std::size_t i = 0; i < regions.size(); ++i) {
    const RegionPart part{regions[i], RegionId(i), elements_of(problem, RegionId(i))};
    if (varies(regions[i]) && !part.elements.empty()) {
      put_region(context, part, problem);
    }
  }
}

RegionSpread region_spread(const FillProblem& problem, RegionId region) {
  if (problem.reinforcement.empty()) {
    const Region& one = problem.regions[region.position()];
    const double fraction = fibre_volume_fraction(one);
    return {{one.thickness, one.thickness}, {fraction, fraction}, 0, {}};
  }
  constexpr double infinity = std::numeric_limits<double>::infinity();
  RegionSpread spread{{infinity, -infinity}, {infinity, -infinity}, 0, {}};
  const auto widen = [](Spread& range, double value) {
    range = {std::min(range.least, value), std::max(range.most, value)};
  };
  for (const ElementId element : problem.element_region.ids()) {
    if (problem.element_region[element] != region) {
      continue;
    }
    const Reinforcement local = reinforcement_at(problem, element);
    widen(spread.thickness, local.thickness);
    widen(spread.fibre_volume_fraction, local.fibre_volume_fraction);
    if (std::abs(local.shear) > std::abs(spread.shear)) {
      spread.shear = local.shear;
      spread.sheared_most = element;
    }
  }
  return spread;
}

} // namespace tidemark

#include "io/scatter_value_check.hpp"

#include "io/laid_stack.hpp"
#include "io/raw_lookup.hpp"
#include "io/resin_value_check.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"

#include <algorithm>

namespace tidemark {

namespace {

constexpr Limits variation_limits{
    0,
    1,
    0,
    0.6,
    "a standard deviation over mean from 0 to 1",
    "up to 0.6 are usual; is it a share (0.2) or a percentage in quotes (\"20 %\")?"};
constexpr Limits narrow_limits{
    0,
    0.3,
    0,
    0.1,
    "a standard deviation over mean from 0 to 0.3 (three deviations must leave "
    "some)",
    "up to 0.1 are usual for a fibre volume fraction"};
constexpr Limits normal_limits{
    0,
    0.3,
    0,
    0.3,
    "from 0 to 0.3 with the law \"normal\", since three deviations must leave some",
    "\"lognormal\" and \"gamma\" take more"};
constexpr Limits length_limits{1e-6,
                               1e6,
                               1e-3,
                               100,
                               "a length above 0 (from 1e-6 m to 1e6 m)",
                               "1 mm to 100 m are usual; is the unit right (mm, cm, m)?"};
constexpr Limits deviation_limits{
    0,
    50,
    0,
    20,
    "a difference from 0 K to 50 K, written with K",
    "up to 20 K are usual; a difference is written as \"2 K\", not in degC"};

bool is_normal(const RawVariation& variation) {
  return variation.law && variation.law->value == law_word(RandomLaw::normal);
}

void check_share(const Maybe<double>& share, const std::string& key, const Limits& limits,
                 Findings& findings) {
  if (share) {
    check_number(share->value, share->line, key, share->text, limits, findings);
  }
}

void check_variation(const std::optional<RawVariation>& variation, Findings& findings) {
  if (!variation) {
    return;
  }
  check_share(variation->variation, variation->key + ".variation",
              is_normal(*variation) ? normal_limits : variation_limits, findings);
  if (is_normal(*variation) && !variation->variation) {
    add_error(findings, variation->law->line, variation->key + ".variation",
              "found no such key beside the law \"normal\", expected one from 0 to 0.3: the "
              "default is too much for this law");
  }
  check_range(variation->correlation_length, variation->key + ".correlation_length", length_limits,
              findings);
}

const RawRegionScatter* own_scatter(const RawCase& raw, const RawRegion& region) {
  if (!raw.scatter || !region.name) {
    return nullptr;
  }
  const auto found =
      std::ranges::find(raw.scatter->regions, region.name->value, &RawRegionScatter::name);
  return found == raw.scatter->regions.end() ? nullptr : &*found;
}

/// Of a region, or what stands for all; null if nothing is said.
const RawVariation* variation_of(const RawCase& raw, const RawRegion& region,
                                 std::optional<RawVariation> RawRegionScatter::*own,
                                 std::optional<RawVariation> RawScatter::*common) {
  const RawRegionScatter* of_region = own_scatter(raw, region);
  if (of_region != nullptr && of_region->*own) {
    return &*(of_region->*own);
  }
  return raw.scatter && (*raw.scatter).*common ? &*((*raw.scatter).*common) : nullptr;
}

const RawVariation* permeability_of(const RawCase& raw, const RawRegion& region) {
  return variation_of(raw, region, &RawRegionScatter::permeability, &RawScatter::permeability);
}

const RawVariation* fibre_fraction_of(const RawCase& raw, const RawRegion& region) {
  return variation_of(raw, region, &RawRegionScatter::fibre_volume_fraction,
                      &RawScatter::fibre_volume_fraction);
}

std::string region_text(const RawRegion& region) {
  return region.name ? region.name->value : region.key;
}

/// Whether the fibres of a region find room at a multiple of their weight; true if it is not known.
bool have_room(const RawCase& raw, const RawRegion& region, double times) {
  if (const auto* direct = std::get_if<DirectPermeability>(&region.reinforcement)) {
    return !direct->porosity || (1 - direct->porosity->value) * times < 0.95;
  }
  const RawLayup& written = *layup_of(region);
  auto layup = varies(region) ? std::nullopt : make_layup(raw, written);
  const auto thickness = layup ? cavity_thickness(region, written, *layup) : std::nullopt;
  if (!thickness || !fits(*layup, *thickness)) {
    return true;
  }
  for (Fabric& fabric : layup->fabrics) {
    fabric.areal_weight *= times;
  }
  const auto stack = fits(*layup, *thickness) ? close_stack(*layup, *thickness) : std::nullopt;
  return layup->fabrics.empty() ||
         (stack && conducts(*stack) && std::ranges::none_of(stack->layers, is_packed_too_closely));
}

void check_room(const RawCase& raw, Findings& findings) {
  for (const RawRegion& region : raw.regions) {
    const RawVariation* variation = fibre_fraction_of(raw, region);
    if (variation == nullptr || !variation->variation) {
      continue;
    }
    const Given<double>& share = *variation->variation;
    if (share.value > 0 && share.value <= narrow_limits.high &&
        !have_room(raw, region, 1 + normal_cut * share.value)) {
      add_error(findings, share.line, variation->key + ".variation",
                "found " + share.text + ", of which three are more fibres than the cavity of " +
                    quoted_text(region_text(region)) + " holds, expected less");
    }
  }
}

/// Three deviations to either side must lie where the data hold.
void check_temperature(const RawCase& raw, const std::optional<RawDeviation>& given,
                       const Maybe<double>& mean, Findings& findings) {
  if (!given) {
    return;
  }
  check_range(given->deviation, given->key + ".deviation", deviation_limits, findings);
  if (!given->deviation || !mean || given->deviation->value > deviation_limits.high) {
    return;
  }
  for (const double side : {-normal_cut, normal_cut}) {
    const Maybe<double> extreme = Given<double>{
        mean->value + side * given->deviation->value, given->deviation->line,
        given->deviation->text + ", three times " + (side < 0 ? "below " : "above ") + mean->text};
    check_laws_within(raw, extreme, given->key + ".deviation", findings);
  }
}

void check_temperatures(const RawCase& raw, Findings& findings) {
  const RawScatter& scatter = *raw.scatter;
  check_temperature(raw, scatter.temperature, raw.temperature, findings);
  if (scatter.temperature && !raw.heat && what_needs_temperature(raw.resin).empty()) {
    add_error(findings, scatter.temperature->line, scatter.temperature->key,
              "found it, but no value of [resin] depends on the temperature, expected a law or "
              "table over it, or scatter.viscosity instead");
  }
  if (scatter.mould_temperature && !raw.heat) {
    add_error(findings, scatter.mould_temperature->line, scatter.mould_temperature->key,
              "found it without [heat], expected [heat] with the temperature of the mould");
    return;
  }
  check_temperature(raw, scatter.mould_temperature,
                    raw.heat ? raw.heat->mould_temperature : std::nullopt, findings);
}

void check_regions(const RawCase& raw, Findings& findings) {
  std::vector<std::string> names;
  for (const RawRegion& region : raw.regions) {
    if (region.name) {
      names.push_back(region.name->value);
    }
  }
  for (const RawRegionScatter& own : raw.scatter->regions) {
    if (names.size() == raw.regions.size() && std::ranges::find(names, own.name) == names.end()) {
      add_error(findings, own.line, own.key,
                "found no region of that name, expected one of " +
                    list_with_nearest(own.name, names));
    }
    check_variation(own.permeability, findings);
    if (own.fibre_volume_fraction) {
      check_share(own.fibre_volume_fraction->variation,
                  own.fibre_volume_fraction->key + ".variation", narrow_limits, findings);
    }
  }
}

// --- what is drawn -----------------------------------------------------------------------------

std::string with_sources(bool has_law, bool has_variation) {
  if (has_law && has_variation) {
    return "";
  }
  std::string text = "default: ";
  if (!has_law) {
    text += std::string("law after ") + permeability_law_source;
  }
  if (!has_variation) {
    text += std::string(has_law ? "" : "; ") + "variation of " + permeability_variation_source;
  }
  return text;
}

RandomLaw law_of(const RawVariation* variation, RandomLaw otherwise) {
  return variation != nullptr && variation->law
             ? law_named(variation->law->value).value_or(otherwise)
             : otherwise;
}

using Kind = ScatteredInput::Kind;

ScatteredInput permeability_input(const RawCase& raw, std::size_t r) {
  const RawRegion& region = raw.regions[r];
  const RawVariation* given = permeability_of(raw, region);
  const bool has_variation = given != nullptr && given->variation;
  ScatteredInput input{.kind = Kind::permeability,
                       .part = r,
                       .name = "permeability of " + region_text(region),
                       .column = "permeability_factor[" + region_text(region) + "]"};
  input.law = law_of(given, default_permeability_law);
  input.spread = has_variation ? given->variation->value : default_permeability_variation;
  input.correlation_length =
      given == nullptr ? std::nullopt : value_or_none(given->correlation_length);
  input.source = with_sources(given != nullptr && given->law, has_variation);
  return input;
}

void add_region_inputs(const RawCase& raw, std::vector<ScatteredInput>& inputs) {
  for (std::size_t r = 0; r < raw.regions.size(); ++r) {
    inputs.push_back(permeability_input(raw, r));
    if (const RawVariation* given = fibre_fraction_of(raw, raw.regions[r])) {
      const std::string region = region_text(raw.regions[r]);
      ScatteredInput input{.kind = Kind::fibre_volume_fraction,
                           .part = r,
                           .name = "fibre volume fraction of " + region,
                           .column = "fibre_volume_fraction_factor[" + region + "]"};
      input.spread = value_or_zero(given->variation);
      inputs.push_back(std::move(input));
    }
  }
}

/// Of a quantity that cannot be negative and of which no law is published.
ScatteredInput plain_input(Kind kind, const RawVariation& given, std::string name,
                           std::string column) {
  ScatteredInput input{
      .kind = kind, .part = 0, .name = std::move(name), .column = std::move(column)};
  input.law = law_of(&given, RandomLaw::lognormal);
  input.spread = value_or_zero(given.variation);
  input.source = given.law ? "" : "default law";
  return input;
}

void add_other_inputs(const RawCase& raw, std::vector<ScatteredInput>& inputs) {
  const RawScatter& scatter = *raw.scatter;
  if (scatter.viscosity) {
    inputs.push_back(
        plain_input(Kind::viscosity, *scatter.viscosity, "viscosity", "viscosity_factor"));
  }
  for (std::size_t t = 0; scatter.race_track_gap && t < raw.race_tracks.size(); ++t) {
    const auto& name = raw.race_tracks[t].name;
    inputs.push_back(plain_input(Kind::race_track_gap, *scatter.race_track_gap,
                                 "gap of " + (name ? name->value : ""),
                                 "gap_factor[" + (name ? name->value : "") + "]"));
    inputs.back().part = t;
  }
  const auto add_temperature = [&](Kind kind, const std::optional<RawDeviation>& given,
                                   const Maybe<double>& mean, const char* name,
                                   const char* column) {
    if (given) {
      ScatteredInput input{.kind = kind, .part = 0, .name = name, .column = column};
      input.spread = value_or_zero(given->deviation);
      input.mean = value_or_zero(mean);
      inputs.push_back(std::move(input));
    }
  };
  add_temperature(Kind::temperature, scatter.temperature, raw.temperature,
                  "temperature of the resin", "temperature_k");
  add_temperature(Kind::mould_temperature, scatter.mould_temperature,
                  raw.heat ? raw.heat->mould_temperature : std::nullopt, "temperature of the mould",
                  "mould_temperature_k");
}

std::optional<RegionLayup> region_layup(const RawCase& raw, std::size_t r, double thickness) {
  const RawLayup* written = layup_of(raw.regions[r]);
  auto layup = written == nullptr ? std::nullopt : make_layup(raw, *written);
  return layup ? std::optional(RegionLayup{std::move(*layup), thickness}) : std::nullopt;
}

} // namespace

bool is_temperature(const ScatteredInput& input) {
  return input.kind == Kind::temperature || input.kind == Kind::mould_temperature;
}

void check_scatter(const RawCase& raw, Findings& findings) {
  if (!raw.scatter) {
    return;
  }
  const RawScatter& scatter = *raw.scatter;
  check_variation(scatter.permeability, findings);
  check_variation(scatter.viscosity, findings);
  check_variation(scatter.race_track_gap, findings);
  if (scatter.fibre_volume_fraction) {
    check_share(scatter.fibre_volume_fraction->variation,
                scatter.fibre_volume_fraction->key + ".variation", narrow_limits, findings);
  }
  check_regions(raw, findings);
  check_room(raw, findings);
  check_temperatures(raw, findings);
  if (scatter.race_track_gap && raw.race_tracks.empty()) {
    add_error(findings, scatter.race_track_gap->line, scatter.race_track_gap->key,
              "found it without a race track, expected one [[race_track]] or more");
  }
}

ScatterFacts make_scatter_facts(const RawCase& raw, const FillProblem& problem) {
  ScatterFacts facts;
  add_region_inputs(raw, facts.inputs);
  if (raw.scatter) {
    add_other_inputs(raw, facts.inputs);
    facts.samples = raw.scatter->samples ? raw.scatter->samples->value : facts.samples;
    facts.seed = raw.scatter->seed ? raw.scatter->seed->value : facts.seed;
  }
  std::erase_if(facts.inputs, [](const ScatteredInput& input) { return input.spread == 0; });
  for (std::size_t t = 0; t < raw.race_tracks.size(); ++t) {
    facts.tracks.push_back({raw.runners.size() + t, value_or_zero(raw.race_tracks[t].gap),
                            value_or_none(raw.race_tracks[t].permeability)});
  }
  for (std::size_t r = 0; r < raw.regions.size(); ++r) {
    facts.layups.push_back(region_layup(raw, r, problem.regions[r].thickness));
  }
  if (!what_needs_temperature(raw.resin).empty()) {
    facts.resin_at = [raw](double temperature) {
      RawCase other = raw;
      other.temperature->value = temperature;
      return make_resin(other);
    };
  }
  return facts;
}

} // namespace tidemark

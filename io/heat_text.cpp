#include "io/heat_text.hpp"

#include "io/json_values.hpp"
#include "io/number_text.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

std::string hottest_text(const Case& input, const HeatFacts& facts) {
  const double warmest =
      std::max(input.problem.heat->inlet_temperature, input.problem.heat->mould_temperature);
  if (facts.highest < warmest + 0.1) { // the mould or the inlet itself
    return "";
  }
  return "It is hottest at about " + as_minutes(facts.highest_at) + " with " +
         as_celsius(facts.highest) + ", at " +
         place_text(input, input.problem.mesh.positions[facts.hottest_node]) + ".\n";
}

std::string balance_text(const HeatBalance& balance) {
  const double share = std::abs(error_of(balance));
  const double round_off = 1e-12; // below it the digits mean nothing
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.1g", std::max(share, round_off));
  return std::string("Heat balance: off by ") + (share < round_off ? "less than " : "") +
         text.data() + " of the heat exchanged.\n";
}

} // namespace

std::string as_celsius(double kelvin) {
  return rough_number(std::round((kelvin - 273.15) * 10) / 10) + " degC";
}

std::optional<double> gel_time_at(const Resin& resin, double temperature) {
  if (resin.laws.cure) {
    return cure_course(law_at(*resin.laws.cure, temperature), resin.laws.cure->gel_conversion)
        .gel_age();
  }
  return resin.laws.gel ? gel_time(*resin.laws.gel, temperature, resin.laws.catalyst)
                        : resin.gel_time;
}

double error_of(const HeatBalance& balance) {
  const auto [in, reaction, stored, to_mould, out] = balance;
  const double largest = std::max(
      {std::abs(in), std::abs(reaction), std::abs(stored), std::abs(to_mould), std::abs(out)});
  return largest > 0 ? (in + reaction - stored - to_mould - out) / largest : 0;
}

std::string resin_in_mould_text(const Case& input) {
  const FillProblem& problem = input.problem;
  if (!problem.heat) {
    return "";
  }
  const double temperature = problem.heat->mould_temperature;
  const auto gel = gel_time_at(problem.resin, temperature);
  return "In the mould, at " + as_celsius(temperature) + ": " +
         as_viscosity(fresh_viscosity(problem.resin.laws.viscosity, temperature)) + " when fresh" +
         (gel ? ", gels when " + as_minutes(*gel) + " old" : "") + ".\n";
}

std::string heat_text(const Case& input, const FillResult& result) {
  if (!result.heat) {
    return "";
  }
  const HeatFacts& facts = *result.heat;
  const Heat& heat = *input.problem.heat;
  std::string text = "The resin comes in at " + as_celsius(heat.inlet_temperature) +
                     ", the mould has " + as_celsius(heat.mould_temperature) +
                     ". At the end the resin has " + as_celsius(facts.mean) + " in the mean";
  if (facts.at_last_place && std::isfinite(*facts.at_last_place)) {
    text += ", " + as_celsius(*facts.at_last_place) + " at the place it came to last";
  }
  text += ".\n" + hottest_text(input, facts);
  if (!has_unequal_temperatures(input.problem)) {
    return text;
  }
  if (std::isfinite(gel_age(input.problem.resin))) {
    text += "Where it is nearest to the gel the resin has gone " +
            as_percent(std::max(0.0, facts.gel_share)) + " of its way there.\n";
  }
  if (facts.highest_conversion) {
    text +=
        "The cure has come to " + as_percent(*facts.highest_conversion) +
        " at most in the mean of a cell; right at the front it is further on. What it gives off "
        "after the filling is not in this.\n";
  }
  return text + balance_text(facts.balance);
}

std::vector<std::string> heat_warnings(const Case& input, const FillResult& result) {
  std::vector<std::string> warnings;
  if (!result.heat) {
    return warnings;
  }
  const HeatFacts& facts = *result.heat;
  if (input.highest_temperature && facts.highest > *input.highest_temperature) {
    warnings.push_back("The resin becomes too hot: " + as_celsius(facts.highest) + " at about " +
                       as_minutes(facts.highest_at) + ", at " +
                       place_text(input, input.problem.mesh.positions[facts.hottest_node]) +
                       ", more than the " + as_celsius(*input.highest_temperature) +
                       " of heat.highest_temperature. A cooler mould or less catalyst helps.");
  }
  const double law_end = input.problem.resin.laws.highest;
  if (facts.highest > law_end) {
    warnings.push_back("The resin becomes " + as_celsius(facts.highest) +
                       " hot, beyond the data of [resin]: above " + as_celsius(law_end) +
                       " viscosity and gel time are taken as there.");
  }
  const double largest_imbalance = 1e-6; // own choice: a sound run stays below 1e-8
  if (!(std::abs(error_of(facts.balance)) <= largest_imbalance)) {
    warnings.push_back("Heat is lost or made in the computation: " +
                       number_text(error_of(facts.balance)) + " of what was exchanged.");
  }
  return warnings;
}

Json heat_json(const Case& input, const FillResult& result) {
  if (!result.heat) {
    return {};
  }
  const HeatFacts& facts = *result.heat;
  const Heat& heat = *input.problem.heat;
  const auto or_null = [](const std::optional<double>& value) {
    return value && std::isfinite(*value) ? Json(*value) : Json();
  };
  const Vector3& at = input.problem.mesh.positions[facts.hottest_node];
  const auto [in, reaction, stored, to_mould, out] = facts.balance;
  return {{"inlet_temperature_k", heat.inlet_temperature},
          {"mould_temperature_k", heat.mould_temperature},
          {"highest_temperature_k", facts.highest},
          {"highest_temperature_time_s", facts.highest_at},
          {"highest_temperature_position_m", position_json(at)},
          {"mean_temperature_k", facts.mean},
          {"temperature_at_last_place_k", or_null(facts.at_last_place)},
          {"highest_conversion", or_null(facts.highest_conversion)},
          {"largest_gel_share", facts.gel_share},
          {"carried_in_j", in},
          {"given_off_by_cure_j", reaction},
          {"stored_j", stored},
          {"given_to_mould_j", to_mould},
          {"carried_out_j", out},
          {"balance_error", error_of(facts.balance)}};
}

} // namespace tidemark

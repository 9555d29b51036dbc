#include "io/sheet_cautions.hpp"

namespace tidemark {

// Limits of exposure: UK HSE, hse.gov.uk/plastics/faqs.htm; US OSHA, 29 CFR 1910.1000 table Z-2;
// NIOSH recommended limit, as quoted on OSHA's sampling page for styrene. Organic peroxides: HSE
// guidance note CS21 (ISBN 978 0 7176 2403 4); for methyl ethyl ketone peroxide NIOSH's page
// cdc.gov/niosh/pel88/1338-23.html (eye) and ICSC 1028 of IPCS, WHO and ILO (fire, burns, sawdust).
// Exotherm of the gel test: data page of a general-purpose polyester.
std::vector<std::string> sheet_cautions() {
  return {
      "Organic peroxide (catalyst of polyester and vinyl ester): never bring it together with the "
      "promoter, it may explode; the promoter goes into the resin first. Keep it from acids, "
      "bases, metals, accelerators, flames (HSE CS21; ICSC 1028). Two drops in an eye do severe "
      "damage (NIOSH on MEKP): face shield, gloves. Do not soak up spills with sawdust (ICSC "
      "1028).",
      "Styrene vapour: 100 ppm over 8 h, 250 ppm over 15 min (UK, HSE); 100 ppm, ceiling 200 ppm "
      "(US, OSHA 29 CFR 1910.1000 Z-2); NIOSH advises 50 ppm, 100 ppm for 15 min. The limit of "
      "your country counts. Ventilate.",
      "Exotherm: a gel test of general-purpose polyester peaks at 145 to 165 degC (a data page). A "
      "bucket or full runner gets hotter than the part; a gel margin foretells no exotherm.",
      "Pressure: 0.5 bar on 1 m2 is 50 kN. Never exceed the rating of mould, clamps, hoses and "
      "pump.",
      "Follow the supplier's data sheet, local codes and licensed practice; the first shot is a "
      "trial."};
}

} // namespace tidemark

#pragma once
// The light of the zones all over the picture: exact at nodes an eighth of a zone apart, linear between them.
#include <vector>

#include "zones_internal.h"

namespace provenit::simulated {

class ZoneLight {
 public:
  ZoneLight(const Zones& zones, double aspect);
  /// Light and the display's own estimate of it at every node for these drives.
  using Nodes = std::vector<ZoneField::Response>;
  [[nodiscard]] Nodes nodes(const ZoneField::Drives& drives) const;
  /// At a place, shares of width and height.
  [[nodiscard]] ZoneField::Response at(const Nodes& nodes, double x, double y) const;

 private:
  static constexpr int kParts = 8;  ///< of a zone
  int columns_, rows_;
  int across_, down_;                         ///< nodes
  std::vector<ZoneField::Response> weights_;  ///< of a zone, by how many nodes it lies right of and below the node
  int weights_across_;
};

}  // namespace provenit::simulated

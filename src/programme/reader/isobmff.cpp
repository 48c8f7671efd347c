#include "reader/isobmff.h"

#include <fmt/format.h>

#include <map>

namespace provenit::programme {
namespace {

struct Box {
  std::string kind;
  Bytes body;
};

// Next box of a row of boxes; nullopt at its end or where the row is broken (in.ok() tells which).
std::optional<Box> next_box(BigEndian& in) {
  if (in.left() == 0) return std::nullopt;
  const std::uint32_t size32 = in.u32();
  Box box{.kind = in.four(), .body = {}};
  std::uint64_t body = 0;
  if (size32 == 1) {
    const std::uint64_t size64 = in.number(8);
    body = size64 >= 16 ? size64 - 16 : std::uint64_t{in.left()} + 1;
  } else if (size32 == 0) {
    body = in.left();
  } else {
    body = size32 >= 8 ? size32 - 8 : std::uint64_t{in.left()} + 1;
  }
  box.body = in.take(body > in.left() ? in.left() + 1 : static_cast<std::size_t>(body));
  if (!in.ok()) return std::nullopt;
  return box;
}

std::optional<Bytes> find_box(Bytes row, const std::string& kind) {
  BigEndian in(row);
  while (const std::optional<Box> box = next_box(in))
    if (box->kind == kind) return box->body;
  return std::nullopt;
}

struct FullBox {
  int version = 0;
  std::uint32_t flags = 0;
};
FullBox full_box(BigEndian& in) {
  const std::uint32_t head = in.u32();
  return {.version = static_cast<int>(head >> 24), .flags = head & 0xffffff};
}

tl::unexpected<Error> broken(const std::string& what) {
  return fail(ErrorCode::invalid_input, "broken AVIF: " + what, "Make the file again.");
}

Result<std::uint32_t> primary_item(Bytes meta) {
  const auto body = find_box(meta, "pitm");
  if (!body) return broken("it names no primary item (pitm)");
  BigEndian in(*body);
  const FullBox head = full_box(in);
  const std::uint32_t item = head.version == 0 ? in.u16() : in.u32();
  if (!in.ok()) return broken("box pitm");
  return item;
}

Result<std::string> type_of_item(Bytes meta, std::uint32_t item) {
  const auto body = find_box(meta, "iinf");
  if (!body) return broken("it lists no items (iinf)");
  BigEndian in(*body);
  const FullBox head = full_box(in);
  in.skip(head.version == 0 ? 2 : 4);  // the count; the boxes themselves are counted below
  while (const std::optional<Box> box = next_box(in)) {
    if (box->kind != "infe") continue;
    BigEndian entry(box->body);
    const FullBox kind = full_box(entry);
    if (kind.version < 2) continue;  // has no type
    const std::uint32_t id = kind.version == 2 ? entry.u16() : entry.u32();
    entry.skip(2);  // protection
    const std::string type = entry.four();
    if (entry.ok() && id == item) return type;
  }
  return broken(fmt::format("item {} is not listed (iinf)", item));
}

// Positions in ipco, from 1, of the properties of an item.
Result<std::vector<std::size_t>> properties_of(Bytes iprp, std::uint32_t item) {
  const auto body = find_box(iprp, "ipma");
  if (!body) return broken("its properties belong to no item (ipma)");
  BigEndian in(*body);
  const FullBox head = full_box(in);
  const std::uint32_t entries = in.u32();
  for (std::uint32_t i = 0; i < entries && in.ok(); ++i) {
    const std::uint32_t id = head.version < 1 ? in.u16() : in.u32();
    const int count = in.u8();
    std::vector<std::size_t> properties;
    for (int j = 0; j < count && in.ok(); ++j)
      properties.push_back((head.flags & 1) != 0 ? in.u16() & 0x7fffU : in.u8() & 0x7fU);
    if (in.ok() && id == item) return properties;
  }
  return broken(fmt::format("item {} has no properties (ipma)", item));
}

void read_colour(BigEndian in, AvifFacts& facts) {
  const std::string kind = in.four();
  if (kind == "rICC" || kind == "prof") facts.has_icc = true;
  if (kind != "nclx") return;
  ColourFields f{.where = "the nclx box", .range = {}, .siting = {}};
  f.primaries = in.u16();
  f.transfer = in.u16();
  f.matrix = in.u16();
  f.range = (in.u8() & 0x80) != 0 ? colour::Range::full : colour::Range::narrow;
  if (in.ok()) facts.colour = f;
}

// Order and units of the SEI message: G, B, R in steps of 0.00002; 0.0001 cd/m2.
void read_mastering(BigEndian in, StaticMetadata& metadata) {
  StaticMetadata::Mastering m;
  for (const std::size_t component : {1U, 2U, 0U})
    for (double& value : m.primaries_xy[component]) value = in.u16() * 0.00002;
  for (double& value : m.white_xy) value = in.u16() * 0.00002;
  m.maximum_cdm2 = in.u32() * 0.0001;
  m.minimum_cdm2 = in.u32() * 0.0001;
  if (in.ok()) metadata.mastering = m;
}

void read_property(const Box& box, AvifFacts& facts) {
  BigEndian in(box.body);
  const auto add_place = [&facts](const char* name) {
    facts.metadata.where += (facts.metadata.where.empty() ? "" : ", ") + std::string(name) + " box";
  };
  if (box.kind == "colr") {
    read_colour(in, facts);
  } else if (box.kind == "clli") {
    const int cll = in.u16(), fall = in.u16();
    if (!in.ok()) return;
    facts.metadata.maxcll_cdm2 = cll;
    facts.metadata.maxfall_cdm2 = fall;
    add_place("clli");
  } else if (box.kind == "mdcv") {
    read_mastering(in, facts.metadata);
    if (facts.metadata.mastering) add_place("mdcv");
  } else if (box.kind == "ispe") {
    full_box(in);
    const std::uint32_t width = in.u32(), height = in.u32();
    if (!in.ok()) return;
    facts.width = width;
    facts.height = height;
  } else if (box.kind == "pixi") {
    full_box(in);
    const int channels = in.u8();
    for (int i = 0; i < channels && in.left() > 0; ++i) facts.bits.push_back(in.u8());
  } else if (box.kind == "irot" || box.kind == "imir" || box.kind == "clap") {
    facts.transformations.push_back(box.kind);
  }
}

}  // namespace

bool is_avif_still(Bytes file) {
  BigEndian in(file);
  const std::optional<Box> first = next_box(in);
  if (!first || first->kind != "ftyp") return false;
  BigEndian brands(first->body);
  bool is_still = brands.four() == "avif";
  brands.skip(4);  // minor version
  while (brands.left() >= 4) is_still = brands.four() == "avif" || is_still;
  return is_still;
}

Result<AvifFacts> read_avif_boxes(Bytes file) {
  const auto meta_box = find_box(file, "meta");
  if (!meta_box) return broken("it has no meta box");
  if (meta_box->size() < 4) return broken("box meta");
  const Bytes meta = meta_box->subspan(4);  // version and flags
  AvifFacts facts;
  const auto item = primary_item(meta);
  if (!item) return tl::unexpected(item.error());
  facts.primary_item = *item;
  const auto type = type_of_item(meta, *item);
  if (!type) return tl::unexpected(type.error());
  facts.item_type = *type;
  const auto iprp = find_box(meta, "iprp");
  if (!iprp) return broken("it has no item properties (iprp)");
  const auto ipco = find_box(*iprp, "ipco");
  if (!ipco) return broken("it has no item properties (ipco)");
  const auto wanted = properties_of(*iprp, *item);
  if (!wanted) return tl::unexpected(wanted.error());

  std::map<std::size_t, Box> boxes;
  BigEndian in(*ipco);
  while (const std::optional<Box> box = next_box(in)) boxes.emplace(boxes.size() + 1, *box);
  if (!in.ok()) return broken("box ipco");
  for (const std::size_t position : *wanted) {
    if (position == 0) continue;  // "no property"
    const auto box = boxes.find(position);
    if (box == boxes.end()) return broken(fmt::format("property {} is not there (ipma)", position));
    read_property(box->second, facts);
  }
  return facts;
}

}  // namespace provenit::programme

#include "provenit/correct/frame.h"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <tbb/blocked_range.h>
#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>

#include <algorithm>

#include "frame/kernel.h"

namespace provenit::correct {
namespace {

constexpr std::size_t kPixelsPerTask = 16 * frame::kTile;

frame::FlatStage flat(const Affine& a) {
  frame::FlatStage s{.kind = frame::Kind::affine};
  for (std::size_t i = 0; i < 3; ++i) {
    for (std::size_t j = 0; j < 3; ++j) s.matrix[3 * i + j] = static_cast<float>(a.matrix(i, j));
    s.offset[i] = static_cast<float>(a.offset[i]);
  }
  return s;
}
frame::FlatStage flat(const Lut1d& table) {
  frame::FlatStage s{.kind = frame::Kind::curves, .size = table.size()};
  for (const auto& curve : table.channel)
    for (const double v : curve) s.table.push_back(static_cast<float>(v));
  return s;
}
frame::FlatStage flat(const Lut3d& table) {
  frame::FlatStage s{.kind = frame::Kind::lattice, .size = table.size};
  s.table.reserve(4 * table.nodes.size());
  for (const Triple& node : table.nodes) {
    for (const double v : node) s.table.push_back(static_cast<float>(v));
    s.table.push_back(0);
  }
  return s;
}

}  // namespace

std::vector<std::string> FrameLut::levels() {
  std::vector<std::string> names = frame::vector_level_names();
  std::erase_if(names, [](const std::string& name) { return name == "scalar" || name == "emu128"; });
  names.emplace_back("plain");
  return names;
}

Result<FrameLut> FrameLut::make(const Lut& lut, std::string_view level) {
  if (auto valid = validate(lut); !valid) return tl::unexpected(valid.error());
  const std::vector<std::string> known = levels();
  const std::string name = level.empty() ? known.front() : std::string(level);
  if (std::ranges::find(known, name) == known.end())
    return fail(ErrorCode::not_found, fmt::format("this machine has no instruction set '{}'", name),
                fmt::format("Use one of {}.", fmt::join(known, ", ")));
  auto prepared = std::make_shared<frame::Prepared>();
  for (const Stage& stage : lut.stages)
    prepared->stages.push_back(std::visit([](const auto& s) { return flat(s); }, stage));
  prepared->apply = name == "plain" ? frame::apply_plain : frame::vector_level(name);
  FrameLut result;
  result.prepared_ = std::move(prepared);
  return result;
}

Result<void> FrameLut::apply(std::span<const float> in, std::span<float> out, int threads) const {
  if (in.size() != out.size() || in.size() % 3 != 0)
    return fail(ErrorCode::invalid_input,
                fmt::format("a frame of {} numbers cannot be written to {} as R, G, B", in.size(), out.size()),
                "Give both room for the same number of pixels.");
  const std::size_t pixels = in.size() / 3;
  const auto piece = [&](std::size_t begin, std::size_t end) {
    prepared_->apply(prepared_->stages, in.data() + 3 * begin, out.data() + 3 * begin, end - begin);
  };
  if (threads <= 1) {
    piece(0, pixels);
    return {};
  }
  tbb::task_arena arena(threads);
  arena.execute([&] {
    tbb::parallel_for(tbb::blocked_range<std::size_t>(0, pixels, kPixelsPerTask),
                      [&](const tbb::blocked_range<std::size_t>& r) { piece(r.begin(), r.end()); });
  });
  return {};
}

}  // namespace provenit::correct

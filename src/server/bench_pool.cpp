#include "bench_pool.h"

#include <filesystem>

namespace provenit::server {

Result<BenchPool::Lease> BenchPool::take() {
  {
    const std::lock_guard lock(mutex_);
    if (!free_.empty()) {
      auto bench = std::move(free_.back());
      free_.pop_back();
      return Lease(*this, std::move(bench));
    }
  }
  auto opened = store::Bench::open(path_);
  if (!opened) return tl::unexpected(opened.error());
  return Lease(*this, std::make_unique<store::Bench>(std::move(*opened)));
}

void BenchPool::give_back(std::unique_ptr<store::Bench> bench) {
  const std::lock_guard lock(mutex_);
  free_.push_back(std::move(bench));
}

bool BenchPool::exists() const {
  std::error_code ec;
  return std::filesystem::exists(path_, ec);
}

std::string BenchPool::name() const {
  return std::filesystem::path(path_).filename();
}

std::string BenchPool::folder() const {
  const auto folder = std::filesystem::path(path_).parent_path();
  return folder.empty() ? "." : folder.string();
}

}  // namespace provenit::server

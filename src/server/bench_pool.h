#pragma once
// Open benches, one for each request at a time: opening one looks for damage, which takes too long to do it each time.
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "provenit/store/bench.h"

namespace provenit::server {

class BenchPool {
 public:
  explicit BenchPool(std::string path) : path_(std::move(path)) {}

  /// A bench that goes back to the pool.
  class Lease {
   public:
    Lease(BenchPool& pool, std::unique_ptr<store::Bench> bench) : pool_(&pool), bench_(std::move(bench)) {}
    Lease(Lease&&) = default;
    Lease& operator=(Lease&&) = delete;
    ~Lease() {
      if (bench_) pool_->give_back(std::move(bench_));
    }
    store::Bench& operator*() const { return *bench_; }
    store::Bench* operator->() const { return bench_.get(); }

   private:
    BenchPool* pool_;
    std::unique_ptr<store::Bench> bench_;
  };

  /// Errors: those of Bench::open.
  [[nodiscard]] Result<Lease> take();
  [[nodiscard]] bool exists() const;
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] std::string name() const;    ///< "tern.bench"
  [[nodiscard]] std::string folder() const;  ///< that it lies in; "." for the current one

 private:
  void give_back(std::unique_ptr<store::Bench> bench);

  std::string path_;
  std::mutex mutex_;
  std::vector<std::unique_ptr<store::Bench>> free_;
};

}  // namespace provenit::server

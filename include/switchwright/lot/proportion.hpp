// What a count says about the share behind it.
#pragma once

namespace switchwright {

struct Bounds {
  double low = 0.0;
  double high = 1.0;
};

/// Exact (Clopper-Pearson) limits, each side with (1 - confidence) / 2. @throws Error(usage) unless 0 <= found <= n, n > 0.
Bounds clopper_pearson(long found, long n, double confidence = 0.95);
/// Wilson's score limits (e-Handbook 7.2.4.1).
Bounds wilson(long found, long n, double confidence = 0.95);
/// The share is below this with the confidence (one-sided Clopper-Pearson).
double largest_share(long found, long n, double confidence = 0.95);

}  // namespace switchwright

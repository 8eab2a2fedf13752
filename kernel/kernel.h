// What the bindings call.
#pragma once
#include <cstdint>
#include <vector>

#include "maths.h"

namespace handfast {

// arm.cpp
struct ArmInput {
    int n;
    const double *placements, *axes, *tip, *base, *lo, *hi;  // 4x4 row major
};
ArmTable make_arm(const ArmInput &);
Pose pose_from_rows(const double *m);            // 4x4 row major
void pose_to_rows(const Pose &, double *m);

// chain.cpp
Pose tip_pose(const ArmTable &, const double *q, Pose *joints = nullptr);  // joints: turned frames, n of them
void link_poses(const ArmTable &, const double *q, Pose *out);             // user's frames, n + 1
void tip_jacobian(const ArmTable &, const double *q, double *out);         // 6 x n row major

// inverse.cpp
enum Structure { SPHERICAL_WRIST, THREE_PARALLEL, NUMERIC };
struct Axes {  // at q = 0, in world
    Structure structure;
    bool parallel_shoulder;  // spherical wrist: axes 2 and 3 parallel, else 1 and 2 meet
    Vec h[MAX_JOINTS], p[MAX_JOINTS];
    Vec shoulder, wrist;     // where axes 1 and 2 meet; where the last three, or the last two, meet
    Pose tip;
};
Axes axes_of(const ArmTable &);
constexpr int BRANCHES = 8;
void all_branches(const ArmTable &, const Axes &, const Pose &target, const double *near, double *q, bool *valid);
bool any_branch(const ArmTable &, const Axes &, const Pose &target, const double *near);  // whether any would be valid
double least_turn(const ArmTable &, const Axes &, const Pose &target, const double *near);  // to the nearest branch

// numeric.cpp
constexpr double GOOD = 1e-9;  // pose error of a solution [m, rad]
struct PoseError {
    double position, angle;
};
PoseError pose_error(const ArmTable &, const double *q, const Pose &target);
bool settle(const ArmTable &, const Pose &target, int iterations, bool keep_limits, double *q);  // damped least squares
struct Restarts {
    const double *starts;
    size_t count;
    int restarts, iterations;
    uint64_t seed;
};
void search_inverse(const ArmTable &, const Pose &target, const Restarts &, uint64_t row, double *q, bool *valid);
bool same_turn(const double *a, const double *b, int n);  // equal modulo 2 pi, within 1e-6 rad

// turns.cpp
bool nearest_turns(const double *q, const double *lo, const double *hi, const double *near, int n, double *out);
std::vector<double> all_turns(const double *q, const double *lo, const double *hi, const double *near, int n, size_t most);

// cover.cpp
struct CoverData {
    ArmTable arm;
    std::vector<double> spheres;  // user's rows, link frames
    std::vector<int> links, order, pair;
    std::vector<float> x, y, z, r;
    std::vector<uint32_t> mask;
    CoverTable table;
    double least_radius;
};
void fill_cover(CoverData &, const uint32_t *masks, const int *pairs, size_t pair_count);
void spheres_in_world(const CoverData &, const double *q, double *out);  // k x 4
double edge_travel(const CoverData &, const double *qa, const double *qb);

// winding.cpp
void count_windings(const double *points, size_t m, const double *faces, size_t n, double *out);

// plane.cpp
void least_steps(const bool *ends_a, size_t n, const bool *ends_b, size_t m, const bool *closed, int32_t never, int32_t *out);

// timing.cpp
struct TimedPath {
    std::vector<double> t, q, v, at;
    double deviation;
};
struct Limits {
    int n;
    const double *vmax, *amax;
    double corner;
};
TimedPath time_polyline(const double *path, size_t k, const Limits &, const double *durations);

}  // namespace handfast

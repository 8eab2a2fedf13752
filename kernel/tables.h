// What the instruction levels and the rest share: plain tables, no code.
#pragma once
#include <stddef.h>
#include <stdint.h>

namespace handfast {

constexpr int MAX_JOINTS = 12;
constexpr int MAX_SLOTS = MAX_JOINTS + 2;  // links -1 .. n, link i in slot i + 1
constexpr float SLACK = 2e-5f;             // sphere tests err by this on the safe side [m]

struct Rigid {
    double r[9], p[3];  // row major
};

// Joint frames are turned so that every axis is z: T_world_joint_i = step[0] Rz(q0) step[1] Rz(q1) ... step[i] Rz(qi).
struct ArmTable {
    int n;
    Rigid base;
    Rigid step[MAX_JOINTS];         // step[0] holds the base
    Rigid tip;                      // from the last turned joint frame
    double turned[MAX_JOINTS][9];   // user's joint frame -> turned joint frame (z on the axis)
    float step32[MAX_JOINTS][12], base32[12];
    double lo[MAX_JOINTS], hi[MAX_JOINTS];
};

// Spheres sorted by slot, in turned joint frames (slot n + 1, the tip, in the last joint's).
struct CoverTable {
    int count, slots;
    int first[MAX_SLOTS + 1];
    const float *x, *y, *z, *r;
    const uint32_t *mask;
    const int *order;  // row in the user's table
    float bound[MAX_SLOTS][4];  // a sphere around each slot's spheres
    uint32_t bound_mask[MAX_SLOTS];
    int pairs;
    const int *pair;             // 2 slots each
    double reach[MAX_JOINTS];    // largest distance of any sphere centre it moves from the joint's axis
};

enum Kind { BOX = 0, CAPSULE = 1, BALL = 2, HALF_SPACE = 3, SELF = 4, NOTHING = -1 };

struct Obstacle {
    int kind, row;
    uint32_t mask;
    float thick;     // radius around the core: point, segment or box
    float a[9];      // box: rows of R_box_world; capsule: direction, 1 / length^2; half-space: normal, offset
    float p[3];      // box centre, capsule start, sphere centre
    float h[3];      // box half extents
};

struct WorldTable {
    int count;
    const Obstacle *obstacle;
};

struct Scene {
    const ArmTable *arm;
    const CoverTable *cover;
    const WorldTable *world;
    double margin, resolution;
};

enum Outcome { FOUND, START_BLOCKED, GOALS_BLOCKED, ITERATIONS };

struct SearchResult {
    Outcome outcome;
    int goal, waypoints;
    int64_t iterations, nodes, edges;
    double *path;  // from take_memory, or null
};

struct Discs {  // lines side by side; rows 2 discs x freedoms, along freedoms x lines, middle 2 discs x lines, radii discs x lines
    size_t discs, lines, freedoms;
    const double *rows, *along, *middle, *radii;
    double most;  // how far a line is followed
};

struct Level {
    const char *name;
    void (*free)(const Scene &, const double *q, size_t m, bool *out);
    void (*nearest)(const Scene &, const double *q, size_t m, float *distance, int *sphere, int *obstacle, int *kind);
    void (*edges)(const Scene &, const double *qa, const double *qb, size_t m, bool *out);
    void (*between)(const Scene &a, const double *qa, size_t ma, const Scene &b, const double *qb, size_t mb, float far,
                    float *out);
    void (*closer)(const Scene &a, const double *qa, const double *way_a, size_t ma, const Scene &b, const double *qb,
                   const double *way_b, size_t mb, double margin, bool *out);
    void (*search)(const Scene &, const double *start, const double *goals, int count, int64_t iterations, double stride,
                   uint64_t seed, SearchResult &);
    int (*shortcut)(const Scene &, double *path, int waypoints, int64_t iterations, uint64_t seed);  // in place
    void (*chords)(const Discs &, double *near, double *far);
};

const Level &current_level();
int available_levels(const Level **out);

void *take_memory(size_t bytes);  // 64-byte aligned; throws std::bad_alloc
void give_memory(void *);

}  // namespace handfast

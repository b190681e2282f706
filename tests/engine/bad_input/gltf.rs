//! Mistakes in a glTF file, and what a sound one means.

use base64::Engine as _;
use serde_json::{Value, json};
use trusswalk::space::Point;

use super::*;

/// The corners of a brick of half sizes 1, 2 and 3 along glTF's x, y and z.
fn corners() -> Vec<[f32; 3]> {
    let sign = |k: usize, bit: usize| if k >> bit & 1 == 1 { 1.0 } else { -1.0 };
    (0..8).map(|k| [sign(k, 0), 2.0 * sign(k, 1), 3.0 * sign(k, 2)]).collect()
}

/// Its twelve triangles, counter-clockwise seen from outside.
const FACETS: [[u16; 3]; 12] = [
    [0, 2, 3],
    [0, 3, 1],
    [4, 5, 7],
    [4, 7, 6],
    [0, 1, 5],
    [0, 5, 4],
    [2, 6, 7],
    [2, 7, 3],
    [0, 4, 6],
    [0, 6, 2],
    [1, 3, 7],
    [1, 7, 5],
];

fn bytes_of(corners: &[[f32; 3]], facets: &[[u16; 3]]) -> Vec<u8> {
    let positions = corners.iter().flatten().flat_map(|x| x.to_le_bytes());
    positions.chain(facets.iter().flatten().flat_map(|k| k.to_le_bytes())).collect()
}

/// A file with one brick; its bytes lie at `uri`, or in the binary chunk.
fn brick(uri: Option<&str>) -> Value {
    let mut buffer = json!({ "byteLength": 168 });
    if let Some(uri) = uri {
        buffer["uri"] = json!(uri);
    }
    json!({
        "asset": { "version": "2.0" },
        "nodes": [{ "name": "brick", "mesh": 0 }],
        "meshes": [{ "primitives": [{ "attributes": { "POSITION": 0 }, "indices": 1 }] }],
        "accessors": [
            {
                "bufferView": 0, "componentType": 5126, "type": "VEC3", "count": 8,
                "min": [-1, -2, -3], "max": [1, 2, 3]
            },
            { "bufferView": 1, "componentType": 5123, "type": "SCALAR", "count": 36 }
        ],
        "bufferViews": [
            { "buffer": 0, "byteLength": 96 },
            { "buffer": 0, "byteOffset": 96, "byteLength": 72 }
        ],
        "buffers": [buffer]
    })
}

fn data_uri(bytes: &[u8]) -> String {
    format!("data:application/octet-stream;base64,{}", base64::engine::general_purpose::STANDARD.encode(bytes))
}

fn sound() -> Value {
    brick(Some(&data_uri(&bytes_of(&corners(), &FACETS))))
}

/// A GLB of a JSON and a binary chunk.
fn glb(json: &Value, binary: &[u8]) -> Vec<u8> {
    let mut text = json.to_string().into_bytes();
    text.resize(text.len().next_multiple_of(4), b' ');
    let mut binary = binary.to_vec();
    binary.resize(binary.len().next_multiple_of(4), 0);
    let length = |n: usize| u32::try_from(n).expect("a small file").to_le_bytes();
    let mut bytes = b"glTF\x02\0\0\0".to_vec();
    bytes.extend(length(12 + 8 + text.len() + 8 + binary.len()));
    bytes.extend(length(text.len()));
    bytes.extend(b"JSON");
    bytes.extend(text);
    bytes.extend(length(binary.len()));
    bytes.extend(b"BIN\0");
    bytes.extend(binary);
    bytes
}

pub fn sound_glb() -> Vec<u8> {
    glb(&brick(None), &bytes_of(&corners(), &FACETS))
}

/// The sound plan with a body that is the node `brick` of a file, and no other panel there.
fn scene_with(name: &str, bytes: &[u8], meaning: &str) -> Scene {
    let scene = Scene::new();
    let shape = format!("{{ mesh = {{ file = \"{name}\", node = \"brick\", as = \"{meaning}\" }} }}");
    scene.edit("structure.toml", "{ box = { size_m = [0.60, 0.80, 0.16] } }", &shape);
    scene.write(name, bytes);
    scene
}

fn message_of(json: &Value) -> String {
    scene_with("a.gltf", serde_json::to_string_pretty(json).expect("JSON").as_bytes(), "solid").message()
}

/// The message of a sound file in which the value at a path is another.
fn message_with(path: &str, value: Value) -> String {
    let mut json = sound();
    *json.pointer_mut(path).unwrap_or_else(|| panic!("{path}")) = value;
    message_of(&json)
}

fn message_with_key(path: &str, key: &str, value: Value) -> String {
    let mut json = sound();
    json.pointer_mut(path).unwrap_or_else(|| panic!("{path}"))[key] = value;
    message_of(&json)
}

fn mesh_of(scene: &Scene, name: &str) -> std::sync::Arc<trusswalk::space::Mesh> {
    let loaded = scene.read().unwrap_or_else(|problems| panic!("{problems}"));
    let mesh = loaded.meshes.get(name, "brick").expect("the mesh that the shape names");
    std::sync::Arc::clone(mesh)
}

#[test]
fn a_sound_brick_is_read_from_every_kind_of_file() {
    let bytes = bytes_of(&corners(), &FACETS);
    let in_folder = scene_with("meshes/a.gltf", brick(Some("../b%20c.bin")).to_string().as_bytes(), "solid");
    in_folder.write("b c.bin", &bytes);
    let scenes = [
        (scene_with("a.glb", &sound_glb(), "solid"), "a.glb"),
        (scene_with("a.gltf", sound().to_string().as_bytes(), "solid"), "a.gltf"),
        (in_folder, "meshes/a.gltf"),
    ];
    for (scene, name) in &scenes {
        let mesh = mesh_of(scene, name);
        assert_eq!((mesh.vertices.len(), mesh.triangles.len()), (8, 12));
        // Half sizes 1, 2, 3 along glTF's x, y, z are 1, 3, 2 along ours; volume by hand.
        assert!((mesh.volume() - 2.0 * 6.0 * 4.0).abs() < 1e-9, "{}", mesh.volume());
        assert!(mesh.vertices.iter().all(|p| (p.x.abs(), p.y.abs(), p.z.abs()) == (1.0, 3.0, 2.0)));
        assert_eq!(mesh.open_edges(), 0);
    }
    let loaded = scenes[2].0.read().unwrap_or_else(|problems| panic!("{problems}"));
    assert!(loaded.inputs.iter().any(|input| input.path == "b c.bin"));
}

#[test]
fn matrices_multiply_from_the_root_down_and_a_mirror_turns_triangles_round() {
    let mut json = sound();
    json["nodes"] = json!([
        { "name": "root", "children": [1], "translation": [10, 0, 0], "rotation": [0, 0, std::f64::consts::FRAC_1_SQRT_2, std::f64::consts::FRAC_1_SQRT_2] },
        { "name": "brick", "mesh": 0, "translation": [0, 5, 0], "scale": [-1, 1, 1] }
    ]);
    let mesh = mesh_of(&scene_with("a.gltf", json.to_string().as_bytes(), "solid"), "a.gltf");
    assert!((mesh.volume() - 48.0).abs() < 1e-9, "{}", mesh.volume());
    // Centre: (0, 5, 0), a quarter turn about z gives (−5, 0, 0), then +10 along x; the turn swaps half sizes x and y.
    let centre = mesh.vertices.iter().fold(Point::origin(), |sum, p| sum + p.coords / 8.0);
    assert!((centre - Point::new(5.0, 0.0, 0.0)).norm() < 1e-9, "{centre}");
    assert!(mesh.vertices.iter().all(|p| ((p.x - 5.0).abs() - 2.0).abs() < 1e-9 && (p.z.abs() - 1.0).abs() < 1e-9));
}

#[test]
fn strips_and_fans_face_the_same_way_as_lists() {
    let corners: [[f32; 3]; 4] = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [1.0, 1.0, 0.0]];
    for (mode, order) in [(5, [0_u16, 1, 2, 3]), (6, [0, 1, 3, 2])] {
        let mut bytes = bytes_of(&corners, &[]);
        bytes.extend(order.iter().flat_map(|k| k.to_le_bytes()));
        let mut json = brick(Some(&data_uri(&bytes)));
        json["buffers"][0]["byteLength"] = json!(56);
        json["bufferViews"] =
            json!([{ "buffer": 0, "byteLength": 48 }, { "buffer": 0, "byteOffset": 48, "byteLength": 8 }]);
        json["accessors"][0]["count"] = json!(4);
        json["accessors"][1]["count"] = json!(4);
        json["meshes"][0]["primitives"][0]["mode"] = json!(mode);
        let mesh = mesh_of(&scene_with("a.gltf", json.to_string().as_bytes(), "shell"), "a.gltf");
        assert_eq!(mesh.triangles.len(), 2);
        for triangle in &mesh.triangles {
            let [a, b, c] = triangle.map(|k| mesh.vertices[k]);
            // glTF's z, towards the viewer, is our −y.
            assert!((b - a).cross(&(c - a)).y < 0.0, "mode {mode}: {triangle:?}");
        }
    }
}

#[test]
fn seams_that_a_file_splits_are_shared_again() {
    let all: Vec<[f32; 3]> = FACETS.iter().flatten().map(|k| corners()[usize::from(*k)]).collect();
    let mut json = brick(Some(&data_uri(&bytes_of(&all, &[]))));
    json["buffers"][0]["byteLength"] = json!(432);
    json["bufferViews"][0]["byteLength"] = json!(432);
    json["accessors"][0]["count"] = json!(36);
    json["meshes"][0]["primitives"][0] = json!({ "attributes": { "POSITION": 0 } });
    let mesh = mesh_of(&scene_with("a.gltf", json.to_string().as_bytes(), "solid"), "a.gltf");
    assert_eq!(mesh.vertices.len(), 8);
}

#[test]
fn an_open_solid() {
    let mut json = sound();
    json["accessors"][1]["count"] = json!(33);
    let message = message_of(&json);
    says_alone(&message, &["`brick` has 3 open edges", "structure.toml:15:44", "or `as = \"shell\"`"]);
}

#[test]
fn a_solid_with_a_triangle_turned_round() {
    let mut facets = FACETS;
    facets[0].swap(0, 1);
    let message = message_of(&brick(Some(&data_uri(&bytes_of(&corners(), &facets)))));
    says_alone(&message, &["some triangles of `brick` are turned the wrong way", "structure.toml:15:"]);
}

#[test]
fn a_flat_hull() {
    let flat: Vec<[f32; 3]> = corners().into_iter().map(|[x, y, _]| [x, y, 0.0]).collect();
    let json = brick(Some(&data_uri(&bytes_of(&flat, &FACETS))));
    let scene = scene_with("a.gltf", json.to_string().as_bytes(), "hull");
    says_alone(&scene.message(), &["the hull of `brick`", "structure.toml:15:"]);
    let flat = "{ hull = { points_m = [[0,0,0],[1,0,0],[0,1,0],[1,1,0]] } }";
    let message = message_after("structure.toml", "{ box = { size_m = [0.60, 0.80, 0.16] } }", flat);
    says_alone(&message, &["structure.toml:15:31", "expected points of a solid"]);
}

#[test]
fn a_node_that_is_not_there_or_there_twice() {
    let message = message_with("/nodes/0/name", json!("brik"));
    says_alone(&message, &["no node has the name `brick`", "nearest: `brik`", "a.gltf:", "nodes"]);
    let message = message_with("/nodes", json!([{ "name": "brick", "mesh": 0 }, { "name": "brick", "mesh": 0 }]));
    says_alone(&message, &["2 nodes have the name `brick`: nodes[0], nodes[1]"]);
}

#[test]
fn nodes_in_a_circle_or_with_two_parents() {
    let message = message_with("/nodes", json!([{ "name": "brick", "mesh": 0, "children": [1] }, { "children": [0] }]));
    says_alone(&message, &["the node hangs on itself", "nodes[0]"]);
    let message =
        message_with("/nodes", json!([{ "name": "brick", "children": [2] }, { "children": [2] }, { "mesh": 0 }]));
    says_alone(&message, &["the node has two parents", "nodes[1].children[0]"]);
    let message = message_with_key("/nodes/0", "children", json!([0]));
    says_alone(&message, &["the node hangs on itself"]);
}

#[test]
fn indices_that_lead_nowhere() {
    for (path, shown) in [
        ("/nodes/0/mesh", "nodes[0].mesh"),
        ("/meshes/0/primitives/0/attributes/POSITION", "meshes[0].primitives[0].attributes.POSITION"),
        ("/meshes/0/primitives/0/indices", "meshes[0].primitives[0].indices"),
        ("/accessors/0/bufferView", "accessors[0].bufferView"),
        ("/bufferViews/1/buffer", "bufferViews[1].buffer"),
    ] {
        for (value, what) in [
            (json!(7), "there is no `"),
            (json!(-1), "this is an integer `-1`"),
            (json!("x"), "expected a whole number"),
        ] {
            says_alone(&message_with(path, value), &[what, shown, "a.gltf:"]);
        }
    }
    says_alone(
        &message_with_key("/nodes/0", "children", json!([9])),
        &["there is no `nodes[9]`", "nodes[0].children[0]"],
    );
}

#[test]
fn accessors_that_are_broken() {
    for (path, value, wanted) in [
        ("/accessors/0/count", json!(9), "9 elements do not fit into the 96 bytes"),
        ("/accessors/0/count", json!(0), "the accessor has 0 elements"),
        ("/accessors/0/count", json!(4_611_686_018_427_387_904_u64), "expected 1 to 2000000"),
        ("/accessors/0/count", json!(2_000_000), "do not fit"),
        ("/accessors/0/componentType", json!(5123), "these are no positions"),
        ("/accessors/0/type", json!("VEC2"), "these are no positions"),
        ("/accessors/1/componentType", json!(5126), "these are no indices"),
        ("/accessors/1/count", json!(35), "35 indices make no whole number of triangles"),
        ("/bufferViews/0/byteLength", json!(95), "8 elements do not fit into the 95 bytes"),
        ("/bufferViews/0/byteLength", json!(1_000_000), "leave the 168 bytes of `buffers[0]`"),
        ("/bufferViews/1/byteOffset", json!(u64::MAX), "leave the 168 bytes"),
        ("/buffers/0/byteLength", json!(169), "the buffer has 168 bytes, not 169"),
    ] {
        says_alone(&message_with(path, value), &[wanted, "a.gltf:"]);
    }
    let stride = |bytes: u64| message_with_key("/bufferViews/0", "byteStride", json!(bytes));
    says_alone(&stride(4), &["the stride is 4 bytes", "bufferViews[0].byteStride", "expected 12 to 252"]);
    says_alone(&stride(16), &["do not fit"]);
    says_alone(&message_with_key("/accessors/0", "byteOffset", json!(u64::MAX)), &["do not fit"]);
    let sparse = json!({
        "count": 1,
        "indices": { "bufferView": 1, "componentType": 5123 },
        "values": { "bufferView": 0 }
    });
    says_alone(&message_with_key("/accessors/0", "sparse", sparse), &["sparse accessors are not read"]);
}

#[test]
fn numbers_that_are_not_finite_and_indices_out_of_range() {
    let mut corners = corners();
    corners[3][1] = f32::NAN;
    let message = message_of(&brick(Some(&data_uri(&bytes_of(&corners, &FACETS)))));
    says_alone(&message, &["position 3 is [1.0, NaN, -3.0]", "accessors[0]", "expected finite numbers"]);
    let mut facets = FACETS;
    facets[1][2] = 8;
    let message = message_of(&brick(Some(&data_uri(&bytes_of(&self::corners(), &facets)))));
    says_alone(&message, &["index 5 is 8", "accessors[1]", "expected indices below 8"]);
    let message = message_with_key("/nodes/0", "scale", json!([1e30, 1, 1]));
    says_alone(&message, &["a point is absurdly far away"]);
    let message = message_with_key("/nodes/0", "rotation", json!([0, 0, 0, 3]));
    says_alone(&message, &["the quaternion's length is 3", "nodes[0].rotation"]);
    let message = message_with_key("/nodes/0", "matrix", json!([1, 2, 3]));
    says_alone(&message, &["expected a list of 16 numbers", "nodes[0].matrix"]);
}

#[test]
fn a_buffer_outside_of_the_tree() {
    for uri in ["../b.bin", "/etc/passwd", "file:///etc/passwd", "%2e%2e/b.bin", "http://x/b.bin", "%ff", "..\\b.bin"] {
        let scene = scene_with("a.gltf", brick(Some(uri)).to_string().as_bytes(), "solid");
        scene.write("../b.bin", &bytes_of(&corners(), &FACETS));
        says_alone(&scene.message(), &["leads out of the glTF's tree", "a.gltf:1:", "buffers[0].uri"]);
    }
}

#[test]
fn a_missing_buffer_or_one_that_is_too_short() {
    let message = message_with("/buffers/0/uri", json!("b.bin"));
    says_alone(&message, &["there is no file `b.bin`", "buffers[0].uri", "a.gltf:"]);
    let scene = scene_with("a.gltf", brick(Some("b.bin")).to_string().as_bytes(), "solid");
    scene.write("b.bin", b"short");
    says_alone(&scene.message(), &["the buffer has 5 bytes, not 168", "buffers[0]"]);
    let message = message_with("/buffers/0/uri", json!("data:application/octet-stream;base64,AA*A"));
    says_alone(&message, &["the base64 is broken", "buffers[0].uri"]);
    let message = message_of(&brick(None));
    says_alone(&message, &["the buffer has no bytes", "buffers[0]"]);
    says_alone(&message_with("/buffers", json!([])), &["there is no `buffers[0]`"]);
}

#[test]
fn a_file_that_asks_for_what_is_not_read() {
    let message = message_with_key("", "extensionsRequired", json!(["KHR_draco_mesh_compression"]));
    says_alone(&message, &["the extension `KHR_draco_mesh_compression` is not read", "extensionsRequired[0]"]);
    says_alone(&message_with_key("/nodes/0", "skin", json!(0)), &["skins are not read", "nodes[0].skin"]);
    says_alone(&message_with_key("/meshes/0/primitives/0", "targets", json!([])), &["morph targets are not read"]);
    says_alone(
        &message_with_key("/meshes/0/primitives/0", "mode", json!(1)),
        &["this mode makes no triangles", "meshes[0].primitives[0].mode"],
    );
    says_alone(&message_with("/meshes/0/primitives", json!([])), &["the node `brick` has no triangles", "nodes[0]"]);
}

#[test]
fn json_that_is_none() {
    let message = scene_with("a.gltf", b"{\n \"nodes\": [,]\n}", "solid").message();
    says_alone(&message, &["a.gltf:2:12", "expected glTF's JSON"]);
    let message = scene_with("a.gltf", b"\xff\xfe", "solid").message();
    says_alone(&message, &["a.gltf: byte 0"]);
    let message = scene_with("a.gltf", b"", "solid").message();
    says_alone(&message, &["a.gltf", "expected glTF's JSON"]);
    let message = scene_with("a.gltf", b"[1]", "solid").message();
    says_alone(&message, &["this is an integer `1`", "a.gltf:1:2", "expected a list"]);
    let message = scene_with("a.gltf", b"{\"asset\": {\"version\": \"2.0\"}}", "solid").message();
    says_alone(&message, &["no node has the name `brick`"]);
}

#[test]
fn glb_that_is_cut_or_says_wrong_lengths() {
    let whole = sound_glb();
    let message_of = |bytes: &[u8]| scene_with("a.glb", bytes, "solid").message();
    says_alone(&message_of(&whole[..whole.len() - 5]), &["the GLB says that it has", "a.glb: byte 8"]);
    says_alone(&message_of(&whole[..10]), &["the GLB ends here", "a.glb: byte 10"]);
    let with = |at: usize, bytes: &[u8]| {
        let mut whole = whole.clone();
        whole[at..at + bytes.len()].copy_from_slice(bytes);
        whole
    };
    says_alone(&message_of(&with(4, &[1])), &["the GLB has version 1", "a.glb: byte 4"]);
    says_alone(
        &message_of(&with(12, &[0xff; 4])),
        &["the JSON chunk says that it has 4294967295 bytes", "a.glb: byte 12"],
    );
    says_alone(&message_of(&with(16, b"JUNK")), &["there is no JSON chunk here", "a.glb: byte 12"]);
    let binary = whole.len() - 168 - 8;
    says_alone(&message_of(&with(binary, &[0xff])), &["the BIN chunk says", &format!("a.glb: byte {binary}")]);
    let mut cut = whole[..binary + 5].to_vec();
    let length = u32::try_from(cut.len()).expect("a small file");
    cut[8..12].copy_from_slice(&length.to_le_bytes());
    says_alone(&message_of(&cut), &["the GLB ends here", &format!("a.glb: byte {length}")]);
    says_alone(&message_of(&with(8, &[11, 0, 0, 0])), &["the GLB says that it has 11 bytes", "a.glb: byte 8"]);
    // A wrong type in the JSON of a GLB has its path and its byte in the file.
    let mut json = brick(None);
    json["nodes"][0]["mesh"] = json!("one");
    let bytes = glb(&json, &bytes_of(&corners(), &FACETS));
    let at = bytes.windows(5).position(|part| part == b"\"one\"").expect("the index");
    says_alone(
        &message_of(&bytes),
        &["this is a string \"one\"", &format!("a.glb: nodes[0].mesh (byte {at})"), "expected a whole number"],
    );
    // A mistake in the JSON of a GLB has its path and its byte in the file.
    let mut json = brick(None);
    json["accessors"][0]["count"] = json!(0);
    let bytes = glb(&json, &bytes_of(&corners(), &FACETS));
    let at = bytes.windows(10).position(|part| part == b"\"count\":0,").expect("the count") + 8;
    says_alone(
        &message_of(&bytes),
        &["the accessor has 0 elements", &format!("a.glb: accessors[0].count (byte {at})")],
    );
}

#[test]
fn hostile_files_are_answered_quickly() {
    let chain: Vec<Value> = (0..100_000)
        .map(|k| if k == 99_999 { json!({ "name": "brick" }) } else { json!({ "children": [k + 1] }) })
        .collect();
    let mut deep = sound();
    deep["nodes"] = json!(chain);
    let mut many = sound();
    let leaves: Vec<Value> = (0..60_000).map(|_| json!({ "mesh": 0 })).collect();
    many["nodes"] =
        json!([vec![json!({ "name": "brick", "children": (1..=60_000).collect::<Vec<_>>() })], leaves].concat());
    let mut repeated = sound();
    let primitive = repeated["meshes"][0]["primitives"][0].clone();
    let zeros = data_uri(&vec![0; 12 * 200_000 + 72]);
    repeated["meshes"][0]["primitives"] = json!(vec![primitive; 50_000]);
    repeated["buffers"][0] = json!({ "byteLength": 2_400_072, "uri": zeros });
    repeated["bufferViews"] = json!([
        { "buffer": 0, "byteLength": 2_400_000 },
        { "buffer": 0, "byteOffset": 2_400_000, "byteLength": 72 }
    ]);
    repeated["accessors"][0]["count"] = json!(200_000);
    let nested = |key: &str| {
        let deep = format!("{}1{}", "{\"a\":".repeat(200_000), "}".repeat(200_000));
        format!("{{\"asset\":{{\"version\":\"2.0\"}},\"{key}\":{deep}}}")
    };
    for (bytes, wanted) in [
        (format!("{{\"nodes\":{}{}}}", "[".repeat(200_000), "]".repeat(200_000)).into_bytes(), "this is a list"),
        (nested("extras").into_bytes(), "no node has the name `brick`"),
        (nested("extensions").into_bytes(), "nested too deeply"),
        (format!("{{\"materials\":[{}{{}}]}}", "{},".repeat(300_000)).into_bytes(), "the JSON has too many values"),
        (format!("{{\"nodes\":[{}0]}}", "0,".repeat(10_000_000)).into_bytes(), "the JSON has too many values"),
        (vec![b' '; (64 << 20) + 1], "`a.gltf` is larger than 64 MiB"),
        (deep.to_string().into_bytes(), "the node `brick` has no triangles"),
        (many.to_string().into_bytes(), "the mesh has more than 500000 triangles"),
        (repeated.to_string().into_bytes(), "the meshes of this file are too large together"),
    ] {
        let scene = scene_with("a.gltf", &bytes, "solid");
        let begun = std::time::Instant::now();
        says_alone(&scene.message(), &[wanted]);
        assert!(begun.elapsed().as_secs() < 10, "{wanted}: {:?}", begun.elapsed());
    }
}

#[test]
fn one_large_buffer_named_many_times() {
    let mut json = sound();
    json["buffers"] = json!(vec![json!({ "byteLength": 60_000_000, "uri": "b.bin" }); 4]);
    json["bufferViews"] = json!((0..4).map(|k| json!({ "buffer": k, "byteLength": 96 })).collect::<Vec<_>>());
    json["accessors"] = json!(
        (0..4)
            .map(|k| json!({ "bufferView": k, "componentType": 5126, "type": "VEC3", "count": 6 }))
            .collect::<Vec<_>>()
    );
    json["meshes"][0]["primitives"] =
        json!((0..4).map(|k| json!({ "attributes": { "POSITION": k } })).collect::<Vec<_>>());
    let scene = scene_with("a.gltf", json.to_string().as_bytes(), "shell");
    scene.write("b.bin", &vec![0; 60_000_000]);
    says_alone(&scene.message(), &["the buffers of this file are too large together", "buffers[2].uri"]);
}

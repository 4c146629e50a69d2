; Colours, under the names that this editor's themes know. The language server adds what only it knows.
(comment) @comment
((comment) @comment.doc (#match? @comment.doc "^##([^#]|$)"))
(text) @string
(number) @number
(glued) @number
(path) @property
(arrow) @operator
(range) @operator
(tolerance) @operator
["=" ":" "/"] @operator
["{" "}" "(" ")"] @punctuation.bracket
(keyword) @keyword
(item (keyword) @_head . (word) @type (#any-of? @_head "part" "module"))
(item (keyword) @_head . (word) @function (#any-of? @_head "scenario" "exercise" "readings" "variant"))
(item (keyword) @_head . (word) @variable (#any-of? @_head "supply" "ground" "splice" "fuse" "breaker" "link" "device" "switch" "lamp" "heater" "coil" "winding" "motor" "resistor" "thermistor" "variable" "diode" "connector" "control"))
(item (keyword) @_head . (number) @label (#eq? @_head "wire"))
(item (keyword) @_head . (word) @title (#eq? @_head "circuit"))
((statement . (word) @keyword) (#any-of? @keyword "pins" "positions" "contact" "changeover" "coil" "winding" "motor" "resistor" "lamp" "heater" "diode" "track" "transducer" "thermistor" "variable" "grade" "connector" "gang" "allow" "unused" "where" "access" "sealed" "moves" "hazard" "restricted" "fault" "symptom" "probes" "ask"))
((word) @type (#any-of? @type "feed" "drives" "switches" "reference" "return" "senses" "bus"))
((word) @constant (#any-of? @constant "operates" "weak" "rests" "holds" "chatters" "fed" "grounded" "referenced" "between" "clash" "blown"))
((word) @string.special (#match? @string.special "^(BK|BN|RD|OG|YE|GN|BU|VT|GY|WH|PK|GD|TQ|SR|GNYE)$"))

" Colours for Keyon circuits. The language server adds what only it knows.
if exists('b:current_syntax')
  finish
endif

syntax case match
syntax sync minlines=50

" Words at the head of a statement.
syntax keyword keyonItem circuit use view supply ground splice connector wire fuse breaker link device part module
syntax keyword keyonItem scenario expect exercise readings switch control variant about elsewhere gang unused allow
syntax keyword keyonElement resistor lamp heater coil winding motor thermistor variable diode track transducer contact
syntax keyword keyonElement changeover pins positions grade
" Words within a statement.
syntax keyword keyonRole feed drives switches reference return senses bus low high half digital switched
syntax keyword keyonClause as inner range negative limit live in on pwm clamp draws pull_up pull_down to from threshold
syntax keyword keyonClause shared by uses pulls_in drops_out rated turns_at runs at beta steinhart table wiper travel over
syntax keyword keyonClause ratio drop span nominal closed open when energised rest active out with cold fitted without
syntax keyword keyonClause where access sealed face moves hazard restricted accuracy do
syntax keyword keyonClause fault symptom probes ask short stuck resistance drift unplug pull jumper load ohms
syntax keyword keyonState operates weak rests holds chatters fed grounded referenced between clash blown good bright dim
syntax keyword keyonState dark below above about forward reverse

syntax match keyonNumber /\v<\d+(\.\d+)?([eE][+-]?\d+)?>/
syntax match keyonQuantity /\v<\d+(\.\d+)?([eE][+-]?\d+)?\s?([µumkM]?(V|A|W|ohm|Ω|Hz|Pa)|[mck]?m|mm[2²]|deg[CF]|[°][CF]|K|ft|in|bar|mbar|psi)>/
syntax match keyonQuantity /\v<\d+(\.\d+)?\s?\%/
syntax match keyonColour /\v<(BK|BN|RD|OG|YE|GN|BU|VT|GY|WH|PK|GD|TQ|SR|GNYE)(\/(BK|BN|RD|OG|YE|GN|BU|VT|GY|WH|PK|GD|TQ|SR))?>/
syntax match keyonOperator /->\|\.\.\|+-\|[:=]/
syntax match keyonPath /\v<[[:alpha:]_]\w*(\.\w+)+>/

syntax region keyonText start=/"/ skip=/\\./ end=/"/ end=/$/ oneline
syntax match keyonComment /#.*$/ contains=keyonTodo
syntax match keyonDoc /^\s*##\($\|[^#].*$\)/
syntax keyword keyonTodo TODO FIXME contained

highlight default link keyonItem Statement
highlight default link keyonElement Type
highlight default link keyonRole StorageClass
highlight default link keyonClause Keyword
highlight default link keyonState Constant
highlight default link keyonNumber Number
highlight default link keyonQuantity Number
highlight default link keyonColour Special
highlight default link keyonOperator Operator
highlight default link keyonPath Identifier
highlight default link keyonText String
highlight default link keyonComment Comment
highlight default link keyonDoc SpecialComment
highlight default link keyonTodo Todo

let b:current_syntax = 'keyon'
